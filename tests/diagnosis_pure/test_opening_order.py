"""The order with what is opened and closed again counted: every order there is, the bench's rules, published ones."""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import permutations
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnosis import opening_search, ordering
from diagnosis.opening_order import Asked, Ordered, asked_of, cost_of, lawful_handbook_order
from diagnosis.opening_search import best_lawful_order, exact_order, good_order
from diagnosis.openings import PLAIN, Openings
from diagnosis.ordering import SearchStep
from diagnosis.runs_rules import first_before, needs_of
from diagnosis.unit_parts import CHAMBERS, PARTS
from diagnosis.unit_state import UnitState
from tests.breadth import examples

CHANCES = st.sampled_from([0.1, 0.5, 0.9, 1.0])
FORK = {"kind": "fork", "spring_kind": "air"}


@dataclass
class AStep:
    key: str
    kind: str = "check"
    minutes: float = 5.0
    needs: tuple[str, ...] = ()
    ends_search: Mapping[str, float] = field(default_factory=dict)
    requires: Mapping[str, Any] = field(default_factory=dict)
    opens: tuple[str, ...] = ()
    answers: Mapping[str, Any] = field(default_factory=dict)
    proves: tuple[str, ...] = ()
    only_if: Mapping[str, Any] = field(default_factory=dict)
    do: tuple[str, ...] = ()
    bolts: tuple[str, ...] = ()
    safety: bool = False
    title: str = ""


def work(key: str, minutes: float, requires: Mapping[str, Any], **left: str) -> AStep:
    return AStep(key, "work", minutes, requires=requires, answers={"done": {"leaves": left}})


def work_steps(minutes: Sequence[float]) -> list[AStep]:
    """Wheel, air and lowers out of the way and back, with what each asks of the others."""
    shut = {"lowers": ["closed"], "foot_fasteners": ["closed"]}
    out, back, air, fill, off, on = minutes
    empty = {chamber: ["empty"] for chamber in CHAMBERS}
    return [
        work("wheel-out", out, {}, wheel="out"),
        work("air-out", air, {}, **dict.fromkeys(CHAMBERS, "empty")),
        work("lowers-off", off, {**empty, "wheel": ["out"]}, lowers="removed"),
        work("lowers-on", on, {}, lowers="fitted"),
        work("fill", fill, shut, **dict.fromkeys(CHAMBERS, "level")),
        work("wheel-in", back, {"lowers": ["closed"]}, wheel="in"),
    ]


WANTED: tuple[Mapping[str, Any], ...] = (
    {},
    {"positive_air": ["as_it_came", "charged", "level"], "lowers": ["closed"]},
    {"wheel": ["out"], "lowers": ["closed"]},
    {"wheel": ["closed"], "lowers": ["closed"]},
    {"lowers": ["removed"]},
    {chamber: ["empty"] for chamber in CHAMBERS},
)


@dataclass(frozen=True)
class Problem:
    steps: list[AStep]
    checks: list[str]
    beliefs: dict[str, float]
    unit: UnitState

    @property
    def needs(self) -> dict[str, frozenset[str]]:
        return needs_of(self.steps, FORK)

    def openings(self) -> Openings:
        return Openings(self.steps, self.needs, unit=self.unit, done=(), checks=self.checks, minutes={})

    def asked(self) -> Asked:
        return asked_of(self.checks, {step.key: step.ends_search for step in self.steps}, self.beliefs)


def beliefs_of(weights: Sequence[float]) -> dict[str, float]:
    return {f"cause{number}": weight / sum(weights) for number, weight in enumerate(weights)}


@st.composite
def problems(draw: st.DrawFn, most: int = 6) -> Problem:
    """A few checks that want the unit open or closed, some on the way to others, on a unit with something open."""
    beliefs = beliefs_of([draw(st.integers(1, 9)) for _ in range(draw(st.integers(1, 4)))])
    checks: list[AStep] = []
    for number in range(draw(st.integers(1, most))):
        earlier = [step.key for step in checks]
        checks.append(
            AStep(
                f"check{number}",
                minutes=float(draw(st.integers(1, 20))),
                needs=tuple(draw(st.sets(st.sampled_from(earlier), max_size=1))) if earlier else (),
                ends_search={
                    cause: draw(st.sampled_from([0.1, 0.5, 0.9, 1.0])) for cause in beliefs if draw(st.booleans())
                },
                requires=draw(st.sampled_from(WANTED)),
                answers=draw(st.sampled_from([{}, {"ruled_out": {"leaves": dict.fromkeys(CHAMBERS, "level")}}])),
            )
        )
    steps = [*checks, *work_steps([float(draw(st.integers(0, 12))) for _ in range(6)])]
    for step in checks:  # what fills asks for the fork to be closed, as a shipped check does
        if step.answers and "lowers" not in step.requires:
            step.requires = {**step.requires, "lowers": ["closed"]}
    steps = draw(st.permutations(steps))
    unit = UnitState.as_it_came(FORK)
    for key in draw(st.sampled_from([(), ("wheel-out",), ("wheel-out", "air-out", "lowers-off")])):
        unit = unit.after(next(step for step in steps if step.key == key), "done")
    return Problem(list(steps), [step.key for step in steps if step.kind == "check"], beliefs, unit)


def told_at_the_bench(problem: Problem, order: Sequence[str]) -> tuple[float, list[tuple[str, ...]]] | None:
    """Expected minutes of an order, straight from the definition, with what the bench asks for before each check.

    The search ends at a check with its chance, and then what is open is closed. None where the bench asks for another
    of the checks first, or for none at all.
    """
    by_key = {step.key: step for step in problem.steps}
    unit, given, left = problem.unit, dict[str, str](), dict(problem.beliefs)
    minutes, ways = 0.0, list[tuple[str, ...]]()
    for check in order:
        way: list[str] = []
        while not way or way[-1] != check:
            first = first_before(by_key[check], problem.steps, problem.needs, given, unit)
            if first is None or unit.unmet(first.step) or (first.step.key in order and first.step.key != check):
                return None
            way.append(first.step.key)
            minutes += first.step.minutes * sum(left.values())
            unit = unit.after(first.step, PLAIN[first.step.kind])
            given[first.step.key] = PLAIN[first.step.kind]
        still = {cause: belief * (1 - by_key[check].ends_search.get(cause, 0.0)) for cause, belief in left.items()}
        minutes += (sum(left.values()) - sum(still.values())) * closing_minutes(problem, unit)
        left = still
        ways.append(tuple(way))
    return minutes + sum(left.values()) * closing_minutes(problem, unit), ways


def closing_minutes(problem: Problem, unit: UnitState) -> float:
    """The fewest minutes of work after which nothing is open, every order of the closing work tried."""
    closing = [step for step in problem.steps if step.key in ("lowers-on", "fill", "wheel-in")]
    found = []
    for size in range(len(closing) + 1):
        for order in permutations(closing, size):
            now, minutes = unit, 0.0
            for step in order:
                minutes = float("inf") if now.unmet(step) else minutes + step.minutes
                now = now.after(step, "done")
            if not now.open_parts:
                found.append(minutes)
    return min(found)


def opens(problem: Problem, unit: UnitState, way: Sequence[str]) -> bool:
    by_key = {step.key: step for step in problem.steps}
    for key in way:
        after = unit.after(by_key[key], PLAIN[by_key[key].kind])
        if any(not unit.is_open(p) and after.is_open(p) for p in unit.conditions if PARTS[p].bears or PARTS[p].chamber):
            return True
        unit = after
    return False


def every_order(problem: Problem) -> Iterator[float]:
    """The cost of every order in which what is harmless and costs no more stands before what opens the unit."""
    openings, asked = problem.openings(), problem.asked()
    for order in permutations(problem.checks):
        told = told_at_the_bench(problem, order)
        if told is not None and cost_of(order, asked, openings) is not None:
            yield told[0]


@settings(deadline=None, max_examples=examples(60), derandomize=True)
@given(problems(most=5))
def test_no_order_costs_less_told_at_the_bench(problem: Problem) -> None:
    best = best_lawful_order(problem.asked(), problem.openings())
    told = told_at_the_bench(problem, best.checks)
    assert told is not None
    assert told[0] == pytest.approx(best.minutes)
    assert told[1] == [way.steps for way in best.ways]
    assert best.is_exact
    assert sorted(best.checks) == sorted(problem.checks)
    assert best.minutes == pytest.approx(min(every_order(problem)))


@settings(deadline=None, max_examples=examples(40), derandomize=True)
@given(problems(most=5))
def test_every_order_costs_what_the_bench_says_and_is_refused_where_it_is(problem: Problem) -> None:
    asked, openings = problem.asked(), problem.openings()
    for order in list(permutations(problem.checks))[::7]:
        told, found = told_at_the_bench(problem, order), cost_of(order, asked, openings, harmless_first=False)
        assert (told is None) == (found is None)
        if told is not None and found is not None:
            assert told[0] == pytest.approx(found.minutes)


@settings(deadline=None, max_examples=examples(40), derandomize=True)
@given(problems(most=6))
def test_nothing_opens_the_unit_before_what_is_harmless_and_costs_no_more(problem: Problem) -> None:
    openings = problem.openings()  # one: each numbers its situations as it comes to them
    best = best_lawful_order(problem.asked(), openings)
    unit, made, at = problem.unit, set[str](), 0
    by_key = {step.key: step for step in problem.steps}
    for way in best.ways:
        if opens(problem, unit, way.steps):
            for check in set(problem.checks) - made:
                other = openings.way(at, check)
                if other is not None and other.waits_for <= made and not opens(problem, unit, other.steps):
                    assert openings.costs(at, other) > openings.costs(at, way) - 1e-9
        for key in way.steps:
            unit = unit.after(by_key[key], PLAIN[by_key[key].kind])
        made.add(way.steps[-1])
        at = known_end(openings, at, way.steps[-1])


def known_end(openings: Openings, at: int, check: str) -> int:
    way = openings.way(at, check)
    assert way is not None
    return way.ends


@settings(deadline=None, max_examples=examples(40), derandomize=True)
@given(problems(most=6))
def test_of_equal_orders_the_one_nearest_the_handbook_is_taken(problem: Problem) -> None:
    asked, openings = problem.asked(), problem.openings()
    costs = {
        order: found.minutes
        for order in permutations(range(len(problem.checks)))
        if (found := cost_of([problem.checks[number] for number in order], asked, openings)) is not None
    }
    least = min(costs.values())
    nearest = min(order for order, minutes in costs.items() if minutes <= least + 1e-8)
    assert [problem.checks.index(check) for check in best_lawful_order(asked, openings).checks] == list(nearest)


def stateless(draw: random.Random, count: int, need_chance: float = 0.3) -> Problem:
    beliefs = beliefs_of([draw.randint(1, 9) for _ in range(4)])
    steps: list[AStep] = []
    for number in range(count):
        needs = (draw.choice(steps).key,) if steps and draw.random() < need_chance else ()
        ends = {cause: draw.choice([0.2, 0.5, 0.9]) for cause in beliefs if draw.random() < 0.6}
        kind = "work" if draw.random() < 0.25 else "check"
        minutes = float(draw.randint(1, 30))
        steps.append(AStep(f"s{number}", kind, minutes, needs, ends if kind == "check" else {}))
    checks = [step.key for step in steps if step.kind == "check"]
    return Problem(steps, checks, beliefs, UnitState.as_it_came(FORK))


@pytest.mark.parametrize("seed", range(20))
def test_where_nothing_is_opened_it_is_the_order_of_the_search_over_steps(seed: int) -> None:
    """The other program, which knows no states and puts work in the order as steps of its own."""
    problem = stateless(random.Random(seed), 12)
    by_key = {step.key: step for step in problem.steps}
    wanted, waiting = set(problem.checks), list(problem.checks)
    while waiting:
        fresh = set(by_key[waiting.pop()].needs) - wanted
        wanted |= fresh
        waiting += fresh
    steps = [SearchStep(s.key, s.minutes, frozenset(s.needs), s.ends_search) for s in problem.steps if s.key in wanted]
    least = ordering.expected_minutes(ordering.best_order(steps, problem.beliefs), steps, problem.beliefs)
    assert best_lawful_order(problem.asked(), problem.openings()).minutes == pytest.approx(least)


@pytest.mark.parametrize("count", [2, 5, 9, 14])
def test_decreasing_chance_for_each_minute_where_nothing_is_opened(count: int) -> None:
    """Least-cost fault testing: p/c where each check settles a cause of its own (Mitten 1960; Smith 1956, w/p)."""
    draw = random.Random(count)
    beliefs = beliefs_of([draw.uniform(1, 9) for _ in range(count)])
    steps = [
        AStep(f"s{number}", minutes=draw.uniform(1, 60), ends_search={cause: draw.uniform(0.2, 1.0)})
        for number, cause in enumerate(beliefs)
    ]
    problem = Problem(steps, [step.key for step in steps], beliefs, UnitState.as_it_came(FORK))

    def chance_for_each_minute(step: AStep) -> float:
        return sum(beliefs[cause] * chance for cause, chance in step.ends_search.items()) / step.minutes

    expected = [step.key for step in sorted(steps, key=chance_for_each_minute, reverse=True)]
    assert list(best_lawful_order(problem.asked(), problem.openings()).checks) == expected


@pytest.mark.parametrize("seed", range(12))
def test_shared_opening_is_smiths_rule_for_the_group_where_all_checks_want_it(seed: int) -> None:
    """Lowers off for every check: the set-up is paid once, and behind it the rule is that of p/c again.

    Job families with a set-up each, all of one family, weighted completion time: Smith's rule within the family
    (Monma and Potts 1989).
    """
    draw = random.Random(seed)
    beliefs = beliefs_of([draw.uniform(1, 9) for _ in range(6)])
    checks = [
        AStep(f"s{n}", minutes=draw.uniform(1, 20), ends_search={cause: 1.0}, requires={"lowers": ["removed"]})
        for n, cause in enumerate(beliefs)
    ]
    steps = [*checks, *work_steps([3, 6, 3, 5, 4, 5])]
    problem = Problem(steps, [step.key for step in checks], beliefs, UnitState.as_it_came(FORK))
    best = best_lawful_order(problem.asked(), problem.openings())
    ratio = {step.key: beliefs[f"cause{n}"] / step.minutes for n, step in enumerate(checks)}
    assert list(best.checks) == sorted(ratio, key=lambda key: -ratio[key])
    assert best.ways[0].steps[:-1] == ("air-out", "wheel-out", "lowers-off")
    assert all(len(way.steps) == 1 for way in best.ways[1:])
    plain = [SearchStep(step.key, step.minutes, frozenset(), step.ends_search) for step in checks]
    searching = ordering.expected_minutes(best.checks, plain, beliefs)
    assert best.minutes == pytest.approx(searching + (3 + 3 + 4) + (5 + 5 + 6))


def crowd(seed: int, count: int) -> Problem:
    draw = random.Random(seed)
    beliefs = beliefs_of([draw.uniform(1, 9) for _ in range(6)])
    checks: list[AStep] = []
    for number in range(count):
        ends = {cause: draw.uniform(0.2, 1.0) for cause in beliefs if draw.random() < 0.4}
        needs = (draw.choice(checks).key,) if checks and draw.random() < 0.2 else ()
        wanted = draw.choice(WANTED)
        checks.append(AStep(f"s{number}", minutes=draw.uniform(1, 20), needs=needs, ends_search=ends, requires=wanted))
    steps = [*checks, *work_steps([draw.uniform(1, 8) for _ in range(6)])]
    return Problem(steps, [step.key for step in checks], beliefs, UnitState.as_it_came(FORK))


@pytest.mark.parametrize("seed", range(8))
def test_the_way_for_long_lists_comes_within_one_per_cent_of_the_exact_order(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Measured where both can run, with few states kept of up to 1,800: of 60 such lists not one was dearer."""
    monkeypatch.setattr(opening_search, "_WIDTH", 20)
    problem = crowd(seed, 10)
    exact = exact_order(problem.asked(), problem.openings())
    good = good_order(problem.asked(), problem.openings())
    assert exact is not None
    assert exact.minutes <= good.minutes * (1 + 1e-9)
    assert good.minutes <= exact.minutes * 1.01


def test_where_too_much_can_come_about_the_order_is_good_and_possible() -> None:
    problem = crowd(3, 14)
    asked = problem.asked()
    assert exact_order(asked, problem.openings(), 50) is None
    found = best_lawful_order(asked, problem.openings(), most_states=50)
    assert not found.is_exact
    assert sorted(found.checks) == sorted(problem.checks)
    assert cost_of(found.checks, asked, problem.openings()) is not None
    start = cost_of(lawful_handbook_order(asked, problem.openings()).checks, asked, problem.openings())
    assert start is None or found.minutes <= start.minutes


def test_a_check_for_which_the_unit_is_never_right_is_left_out() -> None:
    checks = [
        AStep("push", ends_search={"cause0": 0.5}, requires={"wheel": ["closed"]}),
        AStep("damper-apart", ends_search={"cause0": 0.9}, requires={"damper": ["out"]}),
    ]
    problem = Problem(checks, ["push", "damper-apart"], {"cause0": 1.0}, UnitState.as_it_came(FORK))
    assert best_lawful_order(problem.asked(), problem.openings()).checks == ("push",)
    wheel_less = UnitState({**problem.unit.conditions, "wheel": "out"})
    pushed = Problem([*checks, *work_steps([3, 6, 3, 5, 4, 5])], problem.checks, problem.beliefs, wheel_less)
    (way,) = best_lawful_order(pushed.asked(), pushed.openings()).ways
    assert way.steps == ("wheel-in", "push")
    nobody = Problem(checks, problem.checks, problem.beliefs, UnitState({**problem.unit.conditions, "wheel": "out"}))
    assert best_lawful_order(nobody.asked(), nobody.openings()) == Ordered(
        (), nobody.openings().closing(0), is_exact=True
    )


def test_a_charged_unit_is_not_opened_where_nothing_lets_the_air_out() -> None:
    checks = [AStep("inspect", ends_search={"cause0": 0.9}, requires={"lowers": ["removed"]})]
    steps = [step for step in work_steps([3, 6, 3, 5, 4, 5]) if step.key != "air-out"]
    problem = Problem([*checks, *steps], ["inspect"], {"cause0": 1.0}, UnitState.as_it_came(FORK))
    assert not best_lawful_order(problem.asked(), problem.openings()).ways
