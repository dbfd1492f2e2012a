"""How fast the best order is found. Asserts only that the answers agree, never a time.

Run with ``python3 manage.py test -m benchmark tests/benchmarks/test_ordering_speed.py``; ``-s`` shows times too.
"""

from collections.abc import Callable
from functools import partial
from itertools import permutations
from statistics import median
from time import perf_counter
from typing import Any

import numpy as np
import pytest

from diagnosis import opening_order
from diagnosis.checking import as_records
from diagnosis.fact_combinations import combinations
from diagnosis.order_search import exact_sequence, long_sequence
from diagnosis.ordering import SearchStep, best_order, expected_minutes, order_problem
from diagnosis.planning import SearchLeft, causes_within_reach, plan_search, search_left
from diagnosis.runs_rules import can_end_search
from diagnosis.unit_state import UnitState
from tests.lawful_orders import keeps_prerequisites
from tests.shipped import shipped_folder

pytestmark = pytest.mark.benchmark


def checklist(
    seed: int, count: int, causes: int, need_chance: float = 0.0
) -> tuple[list[SearchStep], dict[str, float]]:
    draw = np.random.default_rng(seed)
    beliefs = {f"cause{c}": float(b) for c, b in enumerate(draw.dirichlet(np.ones(causes)))}
    steps = []
    for n in range(count):
        ends = {cause: float(draw.uniform(0.2, 1.0)) for cause in beliefs if draw.random() < 0.4}
        needs = frozenset({f"step{draw.integers(n)}"}) if n and draw.random() < need_chance else frozenset()
        steps.append(SearchStep(f"step{n}", float(draw.uniform(1, 40)), needs, ends))
    return steps, beliefs


def milliseconds(work: Callable[[], object], times: int) -> tuple[float, float]:
    """Median and slowest of several runs, after one to warm up."""
    work()
    spent = []
    for _ in range(times):
        start = perf_counter()
        work()
        spent.append((perf_counter() - start) * 1000)
    return median(spent), max(spent)


def plain_minutes(steps: list[SearchStep], beliefs: dict[str, float]) -> float:
    """Least expected minutes by the same recursion over sets in plain Python, without prerequisites."""
    count = len(steps)
    least = [0.0] * (1 << count)
    for done in range((1 << count) - 2, -1, -1):
        left = dict(beliefs)
        for s in range(count):
            if done >> s & 1:
                for cause, chance in steps[s].ends_search.items():
                    left[cause] *= 1.0 - chance
        weight = sum(left.values())
        least[done] = min(steps[s].minutes * weight + least[done | 1 << s] for s in range(count) if not done >> s & 1)
    return least[0]


def test_sixteen_steps_without_prerequisites(ratios: Callable[[str, float], None]) -> None:
    """The worst case: all 65,536 sets can arise."""
    print()
    for causes in (4, 8, 16):
        steps, beliefs = checklist(1, 16, causes)
        typical, slowest = milliseconds(partial(best_order, steps, beliefs), 15)
        print(f"16 steps, {causes:2} causes, no prerequisites: {typical:.1f} ms, slowest of 15 {slowest:.1f} ms")
    steps, beliefs = checklist(1, 16, 8)
    fast, _ = milliseconds(lambda: best_order(steps, beliefs), 5)
    start = perf_counter()
    least = plain_minutes(steps, beliefs)
    ratios(
        "best order of 16 steps: time of the recursion in plain Python / ours", (perf_counter() - start) * 1000 / fast
    )
    assert expected_minutes(best_order(steps, beliefs), steps, beliefs) == pytest.approx(least)


def test_seven_steps_against_every_order(ratios: Callable[[str, float], None]) -> None:
    steps, beliefs = checklist(2, 7, 6)
    keys = [step.key for step in steps]
    fast, _ = milliseconds(lambda: best_order(steps, beliefs), 15)
    start = perf_counter()
    least = min(expected_minutes(order, steps, beliefs) for order in permutations(keys))
    brute = (perf_counter() - start) * 1000
    ratios("best order of 7 steps: time of costing all 5,040 orders / ours", brute / fast)
    assert expected_minutes(best_order(steps, beliefs), steps, beliefs) == pytest.approx(least)


def test_longer_lists() -> None:
    print()
    for count, need_chance in ((20, 0.0), (20, 0.7), (28, 0.7), (40, 0.5)):
        steps, beliefs = checklist(3, count, 10, need_chance)
        exact = exact_sequence(order_problem(steps, beliefs)) is not None
        typical, slowest = milliseconds(partial(best_order, steps, beliefs), 5)
        method = "exact" if exact else "long method"
        print(f"{count} steps, {need_chance:.0%} need another ({method}): {typical:.0f} ms, slowest {slowest:.0f} ms")
        assert keeps_prerequisites(best_order(steps, beliefs), steps)


def test_how_close_the_long_method_comes(ratios: Callable[[str, float], None]) -> None:
    """Where both can run: sixteen steps, forty lists."""
    gaps = []
    for seed in range(40):
        problem = order_problem(*checklist(100 + seed, 16, 8, 0.4 if seed % 2 else 0.0))
        exact = exact_sequence(problem)
        assert exact is not None
        gaps.append(problem.cost(long_sequence(problem)) / problem.cost(exact) - 1)
    ratios("long method: worst expected minutes of 40 lists / exact order", 1 + max(gaps))
    assert min(gaps) > -1e-9
    assert max(gaps) < 0.02


def test_the_plan_of_the_longest_shipped_checklist(ratios: Callable[[str, float], None]) -> None:
    """On the kind of unit on which it plans most checks, nothing answered; against the handbook's order alone."""
    plan = max(shipped_folder().checklists, key=lambda one: sum(map(can_end_search, as_records(one))))
    steps = as_records(plan)
    planned: list[tuple[int, Callable[[], object], Callable[[], object]]] = []
    for unit in combinations(steps, plan.complaint.suits):
        reach = causes_within_reach(steps, unit.facts, {cause.key: cause.prior for cause in plan.causes})
        beliefs = {cause: weight / sum(reach.values()) for cause, weight in reach.items()}
        of_unit: dict[str, Any] = {"beliefs": beliefs, "minutes": {}, "predictions": {}}
        at = UnitState.as_it_came(unit.facts)
        search = search_left(steps, unit.facts, {}, **of_unit)
        assert search is not None
        of_it = partial(plan_search, steps, unit.facts, {}, **of_unit, unit=at)
        planned.append((len(search.shares), of_it, partial(handbook_alone, search, at)))
    count, best, handbook = max(planned, key=lambda one: one[0])
    typical, slowest = milliseconds(best, 15)
    least, _ = milliseconds(handbook, 15)
    print(f"\n{plan.key}, {count} checks over the state of the unit: {typical:.1f} ms, slowest of 15 {slowest:.1f} ms")
    ratios("plan of the longest shipped checklist: time of the best order / of the handbook's alone", typical / least)
    assert count >= 14


def handbook_alone(search: SearchLeft, at: UnitState) -> object:
    return opening_order.lawful_handbook_order(*search.asked(at))
