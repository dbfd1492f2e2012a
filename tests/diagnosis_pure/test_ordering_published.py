"""Published optima and theorems.

Weighted completion time on one machine is the same sum as expected minutes: with one cause for each job,
``belief = weight / all weights``, found for certain by that job's step, the chance that the search is still on
before a step is the weight not yet completed, so ``expected minutes * all weights = sum(weight * completion)``.
"""

import random
from collections.abc import Mapping, Sequence
from itertools import permutations

import pytest

from diagnosis.ordering import SearchStep, best_order, expected_minutes

Jobs = tuple[tuple[SearchStep, ...], dict[str, float]]


def jobs(minutes: Sequence[float], weights: Sequence[float], needs: Mapping[int, set[int]] | None = None) -> Jobs:
    """Jobs numbered from 1 as steps that each settle a cause of their own for certain."""
    before = needs or {}
    steps = tuple(
        SearchStep(str(n), float(p), frozenset(str(m) for m in before.get(n, ())), {f"cause{n}": 1.0})
        for n, p in enumerate(minutes, start=1)
    )
    return steps, {f"cause{n}": w / sum(weights) for n, w in enumerate(weights, start=1)}


def weighted_completion(order: Sequence[str], minutes: Sequence[float], weights: Sequence[float]) -> float:
    finished = total = 0.0
    for key in order:
        finished += minutes[int(key) - 1]
        total += weights[int(key) - 1] * finished
    return total


def test_two_chains_from_the_scheduling_textbook() -> None:
    """Pinedo, *Scheduling: Theory, Algorithms, and Systems*, example 3.1.5."""
    weights, minutes = (6, 18, 12, 8, 8, 17, 18), (3, 6, 6, 5, 4, 8, 10)
    steps, beliefs = jobs(minutes, weights, {2: {1}, 3: {2}, 4: {3}, 6: {5}, 7: {6}})
    best = best_order(steps, beliefs)
    assert best == tuple("1256374")
    assert expected_minutes(best, steps, beliefs) * sum(weights) == pytest.approx(1967)


def test_smiths_rule() -> None:
    """Smith 1956: without prerequisites, decreasing weight for each minute; numbers checked by brute force."""
    weights, minutes = (3, 6, 1, 6, 2), (20, 60, 15, 18, 8)
    steps, beliefs = jobs(minutes, weights)
    assert expected_minutes(tuple("12345"), steps, beliefs) * sum(weights) == pytest.approx(1555)
    best = best_order(steps, beliefs)
    assert best == tuple("45123")
    assert expected_minutes(best, steps, beliefs) * sum(weights) == pytest.approx(1055)


def test_out_tree_with_a_worthless_gate() -> None:
    """Constructed, unique by brute force: the heavy job 6 pulls its prerequisite 3 ahead."""
    weights, minutes = (0, 2, 0, 9, 1, 20), (1, 3, 4, 2, 5, 2)
    steps, beliefs = jobs(minutes, weights, {2: {1}, 3: {1}, 4: {2}, 5: {2}, 6: {3}})
    best = best_order(steps, beliefs)
    assert best == tuple("136245")
    assert expected_minutes(best, steps, beliefs) * sum(weights) == pytest.approx(285)


def test_separate_causes_with_a_tie_that_the_handbook_wins() -> None:
    """Constructed, brute force: 4-2-1-3 and 4-2-3-1 cost the same 48.5; the worst order 69.75."""
    steps, beliefs = jobs((50, 10, 25, 5), (0.40, 0.25, 0.20, 0.15))
    costs = {order: expected_minutes(order, steps, beliefs) for order in permutations("1234")}
    assert best_order(steps, beliefs) == tuple("4213")
    assert costs[tuple("4213")] == pytest.approx(48.5)
    assert costs[tuple("4231")] == pytest.approx(48.5)
    assert min(costs.values()) == pytest.approx(48.5)
    assert max(costs.values()) == pytest.approx(69.75)


@pytest.mark.parametrize("seed", range(12))
def test_expected_minutes_are_the_weighted_completion_time(seed: int) -> None:
    chance = random.Random(seed)
    minutes = [chance.uniform(1, 40) for _ in range(9)]
    weights = [chance.uniform(0, 10) for _ in range(9)]
    steps, beliefs = jobs(minutes, weights)
    order = [step.key for step in steps]
    chance.shuffle(order)
    expected = weighted_completion(order, minutes, weights) / sum(weights)
    assert expected_minutes(order, steps, beliefs) == pytest.approx(expected)


@pytest.mark.parametrize("count", [1, 2, 5, 9, 13, 16, 24, 40])
def test_decreasing_chance_for_each_minute_where_causes_are_separate(count: int) -> None:
    """Heckerman, Breese and Rommelse 1995 (and Kadane and Simon 1977), the theorem's own conditions.

    One cause at a time, each settled by one step only, here with uncertain tests, and no prerequisites.
    """
    chance = random.Random(count)
    beliefs = {f"cause{n}": chance.uniform(1, 9) for n in range(count)}
    beliefs = {cause: weight / sum(beliefs.values()) for cause, weight in beliefs.items()}
    steps = [
        SearchStep(f"step{n}", chance.uniform(1, 60), frozenset(), {f"cause{n}": chance.uniform(0.2, 1.0)})
        for n in range(count)
    ]

    def chance_per_minute(step: SearchStep) -> float:
        ((cause, ends),) = step.ends_search.items()
        return beliefs[cause] * ends / step.minutes

    expected = tuple(step.key for step in sorted(steps, key=chance_per_minute, reverse=True))
    assert best_order(steps, beliefs) == expected


def test_chance_for_each_minute_fails_once_causes_overlap() -> None:
    """The theorem needs separate causes: here its order costs more, so the search is not idle."""
    beliefs = {"a": 0.5, "b": 0.5}
    steps = [
        SearchStep("both", 10.0, frozenset(), {"a": 0.9, "b": 0.9}),
        SearchStep("only_a", 5.6, frozenset(), {"a": 1.0}),
        SearchStep("only_b", 5.6, frozenset(), {"b": 1.0}),
    ]
    rule = ("both", "only_a", "only_b")  # .09, .0893 and .0893 a minute
    best = best_order(steps, beliefs)
    assert expected_minutes(best, steps, beliefs) < expected_minutes(rule, steps, beliefs)


def horn_order(parents: Sequence[int | None], minutes: Sequence[float], weights: Sequence[float]) -> list[int]:
    """Horn 1972 for out-trees: the block of best ratio goes first, or sticks to the block of its parent."""
    blocks = {job: [job] for job in range(len(parents))}
    order: list[int] = []
    while blocks:
        head = max(blocks, key=lambda h: sum(weights[j] for j in blocks[h]) / sum(minutes[j] for j in blocks[h]))
        parent = parents[head]
        block = blocks.pop(head)
        owner = next((h for h, members in blocks.items() if parent in members), None)
        if owner is None:
            order += block
        else:
            blocks[owner] += block
    return order


@pytest.mark.parametrize("count", [3, 6, 9, 12, 15, 16])
def test_trees_of_prerequisites(count: int) -> None:
    """Horn 1972: optimal for a forest in which each job has at most one direct prerequisite."""
    for seed in range(4):
        chance = random.Random(100 * count + seed)
        parents = [None if n == 0 or chance.random() < 0.2 else chance.randrange(n) for n in range(count)]
        minutes = [chance.uniform(1, 30) for _ in range(count)]
        weights = [chance.choice([0.0, chance.uniform(0, 10)]) for _ in range(count - 1)] + [5.0]
        needs = {n + 1: {parent + 1} for n, parent in enumerate(parents) if parent is not None}
        steps, beliefs = jobs(minutes, weights, needs)
        best = best_order(steps, beliefs)
        horn = [str(job + 1) for job in horn_order(parents, minutes, weights)]
        assert expected_minutes(best, steps, beliefs) == pytest.approx(expected_minutes(horn, steps, beliefs))
