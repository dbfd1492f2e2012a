"""Lists beyond sixteen steps: exact while prerequisites keep the sets few, a good order otherwise."""

import random

import numpy as np
import pytest

from diagnosis.order_search import (
    MOST_SETS,
    OrderProblem,
    _cheapest_place,
    _moved,
    exact_sequence,
    greedy_sequence,
    handbook_sequence,
    long_sequence,
)
from diagnosis.ordering import SearchStep, best_order, expected_minutes, handbook_order
from tests.lawful_orders import keeps_prerequisites


def random_problem(seed: int, count: int, causes: int, need_chance: float) -> OrderProblem:
    """Cheap steps first, as in a handbook; each step may miss, and may need up to two earlier ones."""
    draw = np.random.default_rng(seed)
    needs = [
        frozenset(int(n) for n in draw.choice(step, size=min(step, 2), replace=False))
        if step and draw.random() < need_chance
        else frozenset()
        for step in range(count)
    ]
    return OrderProblem(
        minutes=np.sort(draw.uniform(1, 40, count)),
        misses=1.0 - draw.uniform(0.2, 1.0, (count, causes)) * (draw.random((count, causes)) < 0.3),
        beliefs=draw.dirichlet(np.ones(causes)),
        needs=needs,
    )


@pytest.mark.parametrize("need_chance", [0.0, 0.5])
@pytest.mark.parametrize("seed", range(6))
def test_the_long_method_comes_within_one_per_cent_of_the_exact_order(seed: int, need_chance: float) -> None:
    """Measured where both can run: twelve steps, the exact order itself checked against brute force."""
    problem = random_problem(seed, 12, 6, need_chance)
    exact, good = exact_sequence(problem), long_sequence(problem)
    assert exact is not None
    assert problem.cost(exact) <= problem.cost(good) * (1 + 1e-9)
    assert problem.cost(good) <= problem.cost(exact) * 1.01


@pytest.mark.parametrize("seed", range(4))
def test_too_many_sets_give_a_good_order_that_keeps_the_prerequisites(seed: int) -> None:
    problem = random_problem(seed, 26, 8, 0.3)
    assert exact_sequence(problem) is None
    order = long_sequence(problem)
    assert sorted(order) == list(range(26))
    assert all(problem.needs[step] <= set(order[:place]) for place, step in enumerate(order))
    assert problem.cost(order) <= problem.cost(handbook_sequence(problem.needs))
    assert problem.cost(order) <= problem.cost(greedy_sequence(problem)) * (1 + 1e-9)


@pytest.mark.parametrize("seed", range(4))
def test_moving_any_one_step_of_a_long_order_does_not_help(seed: int) -> None:
    problem = random_problem(seed, 22, 8, 0.3)
    order = long_sequence(problem)
    cost = problem.cost(order)
    for step in order:
        rest = [other for other in order if other != step]
        for place in range(len(order)):
            moved = [*rest[:place], step, *rest[place:]]
            if all(problem.needs[s] <= set(moved[:at]) for at, s in enumerate(moved)):
                assert problem.cost(moved) >= cost * (1 - 1e-8)


@pytest.mark.parametrize("seed", range(4))
def test_the_cheapest_place_for_a_step_is_the_one_that_costing_every_place_finds(seed: int) -> None:
    problem = random_problem(seed, 20, 6, 0.0)
    order = greedy_sequence(problem)
    step = order.pop(2)
    places = [[*order[:place], step, *order[place:]] for place in range(len(order) + 1)]
    assert _cheapest_place(problem, order, step, 0, len(order)) == int(np.argmin([problem.cost(o) for o in places]))
    assert problem.cost(_moved(problem, [*order, step])) < problem.cost([*order, step])


def test_sixteen_steps_without_prerequisites_are_exact() -> None:
    problem = random_problem(3, 16, 8, 0.0)
    assert 2 ** len(problem.minutes) == MOST_SETS
    assert exact_sequence(problem) is not None


def test_thirty_steps_in_three_chains_are_exact() -> None:
    """Eleven to the third sets only. Chains of separate causes: Sidney 1975, best first stretch of any chain."""
    chance = random.Random(7)
    chains = [[(chance.uniform(1, 20), chance.uniform(0, 5)) for _ in range(10)] for _ in range(3)]
    total = sum(weight for chain in chains for _, weight in chain)
    steps, beliefs = [], {}
    for c, chain in enumerate(chains):
        for n, (minutes, weight) in enumerate(chain):
            needs = frozenset({f"{c}.{n - 1}"}) if n else frozenset()
            steps.append(SearchStep(f"{c}.{n}", minutes, needs, {f"cause{c}.{n}": 1.0}))
            beliefs[f"cause{c}.{n}"] = weight / total
    expected: list[str] = []
    at = [0, 0, 0]
    while len(expected) < 30:
        _, c, stop = max(
            (sum(w for _, w in chain[at[c] : stop]) / sum(p for p, _ in chain[at[c] : stop]), c, stop)
            for c, chain in enumerate(chains)
            for stop in range(at[c] + 1, 11)
        )
        expected += [f"{c}.{n}" for n in range(at[c], stop)]
        at[c] = stop
    best = best_order(steps, beliefs)
    assert keeps_prerequisites(best, steps)
    assert expected_minutes(best, steps, beliefs) == pytest.approx(expected_minutes(expected, steps, beliefs))


def test_more_steps_than_a_machine_word_has_bits() -> None:
    steps = [SearchStep(f"s{n}", 1.0 + n % 7, frozenset({f"s{n - 1}"} if n % 2 else ()), {"c": 0.1}) for n in range(70)]
    best = best_order(steps, {"c": 1.0})
    assert keeps_prerequisites(best, steps)
    assert expected_minutes(best, steps, {"c": 1.0}) <= expected_minutes(handbook_order(steps), steps, {"c": 1.0})


def test_the_same_question_gets_the_same_answer() -> None:
    problem = random_problem(1, 30, 8, 0.3)
    assert long_sequence(problem) == long_sequence(problem)
