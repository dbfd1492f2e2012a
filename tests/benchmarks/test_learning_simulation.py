"""Does a shop that learns from its tickets come close to the best order? Simulated shops with a known truth.

Each shop has eight causes, twelve steps in a handbook that runs from cheap to dear, prior weights written by
someone who has never seen the shop, and planned minutes that are off by a third. Tickets are worked in the
order then suggested; the cause counts when it is found, and only steps that were done give ticks, some with a
tablet left over lunch. The chances that steps end the search are taken as known. Ratios are of expected
minutes under the truth; everything is seeded, so a run repeats.

Run with ``python3 manage.py test -m benchmark tests/benchmarks/test_learning_simulation.py``; ``-s`` shows more.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from statistics import mean

import numpy as np
import pytest

from diagnosis.beliefs import cause_beliefs, step_minutes
from diagnosis.ordering import SearchStep, best_order, expected_minutes, handbook_order

pytestmark = pytest.mark.benchmark

SHOPS = 30
CAUSES = tuple(f"cause{n}" for n in range(8))
CHECKPOINTS = (0, 50, 200, 1000)
RELEARN = frozenset({5, 10, 20, 30, 40, 50, 75, 100, 150, 200, 300, 400, 600, 800, 1000})
PRIOR_TICKETS = 8.0


@dataclass
class Shop:
    """The truth, what the checklist says instead, and what the tickets have shown so far."""

    truth: dict[str, float]
    true_steps: list[SearchStep]
    prior: dict[str, float]
    planned: list[SearchStep]
    found: dict[str, int] = field(default_factory=dict)
    ticks: dict[str, list[float]] = field(default_factory=dict)

    def ratio(self, order: tuple[str, ...]) -> float:
        """Expected minutes of ``order`` over those of the best possible order, under the truth."""
        best = best_order(self.true_steps, self.truth)
        return expected_minutes(order, self.true_steps, self.truth) / expected_minutes(
            best, self.true_steps, self.truth
        )

    def learned_order(self, other_kind: Mapping[str, int] | None = None) -> tuple[str, ...]:
        steps = [replace(s, minutes=step_minutes(s.minutes, self.ticks.get(s.key, [])).minutes) for s in self.planned]
        return best_order(steps, cause_beliefs(self.prior, self.found, other_kind).beliefs())


def open_shop(draw: np.random.Generator) -> Shop:
    truth = dict(zip(CAUSES, map(float, draw.dirichlet(np.full(len(CAUSES), 0.8))), strict=True))
    minutes = np.sort(draw.lognormal(2.2, 0.8, 11))
    planned = []
    for n, usual in enumerate(minutes):
        seen = draw.choice(CAUSES, size=draw.integers(1, 4), replace=False)
        ends = {str(cause): float(draw.uniform(0.5, 0.95)) for cause in seen}
        needs = frozenset({f"step{draw.integers(n)}"}) if n and draw.random() < 0.25 else frozenset()
        planned.append(SearchStep(f"step{n}", float(usual), needs, ends))
    planned.append(SearchStep("strip_all", 90.0, frozenset(), dict.fromkeys(CAUSES, 1.0)))
    true_steps = [replace(step, minutes=step.minutes * float(draw.lognormal(0.0, 0.35))) for step in planned]
    prior = PRIOR_TICKETS * draw.dirichlet(np.full(len(CAUSES), 2.0))
    return Shop(truth, true_steps, dict(zip(CAUSES, map(float, prior), strict=True)), planned)


def work_ticket(shop: Shop, order: tuple[str, ...], draw: np.random.Generator) -> None:
    """One fork through the bench: ticks for the steps done, a count for the cause that ended the search."""
    cause = str(draw.choice(CAUSES, p=list(shop.truth.values())))
    by_key = {step.key: step for step in shop.true_steps}
    for key in order:
        lunch = 45.0 if draw.random() < 0.03 else 0.0
        shop.ticks.setdefault(key, []).append(by_key[key].minutes * float(draw.lognormal(0.0, 0.4)) + lunch)
        if draw.random() < by_key[key].ends_search.get(cause, 0.0):
            shop.found[cause] = shop.found.get(cause, 0) + 1
            return


def learn(shop: Shop, draw: np.random.Generator) -> dict[int, float]:
    """Ratio to the best order of the order suggested after each checkpoint's number of tickets."""
    order = shop.learned_order()
    ratios = {0: shop.ratio(order)}
    for ticket in range(1, max(CHECKPOINTS) + 1):
        work_ticket(shop, order, draw)
        if ticket in RELEARN:
            order = shop.learned_order()
        if ticket in CHECKPOINTS:
            ratios[ticket] = shop.ratio(order)
    return ratios


def test_learning_comes_close_to_the_best_order(ratios: Callable[[str, float], None]) -> None:
    draw = np.random.default_rng(1995)
    handbook, learned = [], []
    for _ in range(SHOPS):
        shop = open_shop(draw)
        handbook.append(shop.ratio(handbook_order(shop.planned)))
        learned.append(learn(shop, draw))
    print(f"\nexpected minutes over the best possible, {SHOPS} shops: mean (worst)")
    print(f"  handbook order        {mean(handbook):.3f} ({max(handbook):.3f})")
    ratios("expected minutes: handbook order / best possible, mean of the shops", mean(handbook))
    for tickets in CHECKPOINTS:
        reached = [ratio[tickets] for ratio in learned]
        label = "prior weights only" if tickets == 0 else f"after {tickets} tickets"
        print(f"  {label:<21} {mean(reached):.3f} ({max(reached):.3f})")
        ratios(f"expected minutes: order {label} / best possible, mean of the shops", mean(reached))
    at_200 = [ratio[200] for ratio in learned]
    below = [1 - at / hand for at, hand in zip(at_200, handbook, strict=True)]
    print(f"  after 200 tickets: within 5 % of the best in {sum(at <= 1.05 for at in at_200)} of {SHOPS} shops;")
    print(f"  {mean(below):.0%} below the handbook on average, 20 % or more in {sum(b >= 0.2 for b in below)}")
    assert min(min(ratio.values()) for ratio in learned) >= 1 - 1e-9
    assert mean(at_200) <= 1.05
    assert mean(below) >= 0.20


def test_tickets_of_the_other_spring_kind_help_a_shop_with_few(ratios: Callable[[str, float], None]) -> None:
    """Ten tickets of its own and sixty of a kind whose causes are seven parts in ten alike."""
    draw = np.random.default_rng(1972)
    alone, pooled = [], []
    for _ in range(SHOPS):
        shop = open_shop(draw)
        for _ in range(10):
            work_ticket(shop, shop.learned_order(), draw)
        chances = 0.7 * np.array(list(shop.truth.values())) + 0.3 * draw.dirichlet(np.full(len(CAUSES), 0.8))
        counts = draw.multinomial(60, chances / chances.sum())
        other = dict(zip(CAUSES, map(int, counts), strict=True))
        alone.append(shop.ratio(shop.learned_order()))
        pooled.append(shop.ratio(shop.learned_order(other)))
    ratios("expected minutes after ten own tickets: alone / best possible", mean(alone))
    ratios("expected minutes after ten own tickets: pooled with the other kind / best possible", mean(pooled))
    assert mean(pooled) <= mean(alone)
