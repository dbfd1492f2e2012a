"""Chances of a part, and what several come to: held against SciPy’s distributions and every case counted out."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from itertools import product
from math import prod

import pytest
from scipy import stats

from workshop.stock.expected_need import (
    Belief,
    Chance,
    any_of,
    chance_in_words,
    chance_of_more_than,
    expected_amount,
)

DAY = dt.date(2026, 11, 25)


def wants(*chances: tuple[float, int]) -> list[Chance]:
    return [Chance(pk, pk, DAY, Decimal(quantity), chance) for pk, (chance, quantity) in enumerate(chances, 1)]


class TestAgainstSciPy:
    """scipy.stats, version 1.15 or later: betabinom, poisson_binom."""

    @pytest.mark.parametrize(("took", "tickets"), [(0, 0), (3, 4), (0, 12), (60, 200)])
    @pytest.mark.parametrize("belief", [Belief(4.75, 5.0), Belief(1.0, 2.0), Belief(2.3, 17.2)])
    def test_the_chance_of_the_next_ticket_is_the_beta_binomials(self, belief: Belief, took: int, tickets: int) -> None:
        after_took, after_not = belief.took + took, belief.tickets - belief.took + tickets - took
        published = stats.betabinom(1, after_took, after_not).pmf(1)
        assert belief.after(took, tickets) == pytest.approx(published, rel=1e-9)

    @pytest.mark.parametrize("free", range(6))
    def test_the_sum_of_single_pieces_is_a_poisson_binomial(self, free: int) -> None:
        chances = [0.95, 0.5, 0.31, 0.08, 0.77]
        published = stats.poisson_binom(chances).sf(free)
        ours = chance_of_more_than(Decimal(free), wants(*((chance, 1) for chance in chances)))
        assert ours == pytest.approx(published, abs=1e-12)

    def test_the_expected_amount_is_its_mean(self) -> None:
        chances = [0.9, 0.5]
        assert float(expected_amount(wants(*((chance, 1) for chance in chances)))) == pytest.approx(
            stats.poisson_binom(chances).mean(), abs=0.05
        )


class TestEveryCaseCountedOut:
    @pytest.mark.parametrize("free", [-3, 0, 1, 2, 4, 5, 7, 30, 60])
    def test_with_amounts_of_their_own(self, free: int) -> None:
        those = wants((0.95, 2), (0.5, 1), (0.31, 4), (0.08, 30))
        counted = 0.0
        for case in product((True, False), repeat=len(those)):
            weight = prod(w.chance if taken else 1 - w.chance for w, taken in zip(those, case, strict=True))
            amount = sum(w.quantity for w, taken in zip(those, case, strict=True) if taken)
            counted += weight * (amount > max(free, 0))
        assert chance_of_more_than(Decimal(free), those) == pytest.approx(counted, abs=1e-12)

    def test_any_of_two_reasons(self) -> None:
        counted = sum((0.3 if a else 0.7) * (0.6 if b else 0.4) for a, b in product((True, False), repeat=2) if a or b)
        assert any_of([0.3, 0.6]) == pytest.approx(counted)
        assert any_of([]) == 0.0


def test_counts_that_cannot_be_are_refused() -> None:
    for took, tickets in ((-1, 3), (4, 3)):
        with pytest.raises(ValueError, match="cannot have taken"):
            Belief(1.0, 2.0).after(took, tickets)


def test_nothing_wanted_never_runs_short() -> None:
    assert chance_of_more_than(Decimal(0), []) == 0.0
    assert expected_amount([]) == 0


@pytest.mark.parametrize(
    ("chance", "words"),
    [
        (1.0, "almost certain"),
        (0.95, "almost certain"),
        (0.9, "almost certain, about 9 in 10"),
        (0.8, "likely, about 8 in 10"),
        (0.5, "as likely as not, about 5 in 10"),
        (0.2, "unlikely, about 2 in 10"),
        (0.04, "seldom, less than 1 in 10"),
    ],
)
def test_a_chance_in_words(chance: float, words: str) -> None:
    assert chance_in_words(chance) == words
