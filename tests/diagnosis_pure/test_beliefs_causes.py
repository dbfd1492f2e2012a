"""Beliefs in causes from prior weights and closed tickets, pooled over spring kinds."""

import pytest
from scipy.stats import dirichlet

from diagnosis.beliefs import FEW_TICKETS, OTHER_KIND_CEILING, cause_beliefs, pooled_beliefs

PRIOR = {"scratch": 2.0, "dry_seal": 5.0, "blocked_port": 1.0}


def test_prior_weights_and_tickets_add_up() -> None:
    """Outside check: the mean of SciPy's Dirichlet distribution with the same weights."""
    learned = cause_beliefs(PRIOR, {"scratch": 12, "blocked_port": 3})
    mean = dirichlet([14.0, 5.0, 4.0]).mean()
    assert list(learned.beliefs().values()) == pytest.approx(mean)
    assert sum(learned.beliefs().values()) == pytest.approx(1.0)


def test_tickets_behind_each_figure_are_shown() -> None:
    learned = cause_beliefs(PRIOR, {"scratch": 12, "blocked_port": 3}, {"dry_seal": 8})
    assert [(f.cause, f.tickets, f.other_kind_tickets) for f in learned.figures] == [
        ("scratch", 12, 0),
        ("dry_seal", 0, 8),
        ("blocked_port", 3, 0),
    ]
    assert (learned.tickets, learned.other_kind_tickets) == (15, 8)


def test_without_tickets_the_prior_stands() -> None:
    learned = cause_beliefs(PRIOR)
    assert learned.beliefs() == {"scratch": 0.25, "dry_seal": 0.625, "blocked_port": 0.125}
    assert learned.few


def test_few_tickets_are_called_few() -> None:
    assert cause_beliefs(PRIOR, {"scratch": FEW_TICKETS - 1}).few
    assert not cause_beliefs(PRIOR, {"scratch": FEW_TICKETS}).few


def test_another_spring_kind_counts_a_quarter() -> None:
    learned = cause_beliefs(PRIOR, {"scratch": 2}, {"dry_seal": 8})
    # by hand: scratch 2 + 2, dry seal 5 + 8 / 4, port 1, together 12
    assert learned.beliefs() == pytest.approx({"scratch": 4 / 12, "dry_seal": 7 / 12, "blocked_port": 1 / 12})
    assert learned.other_kind_weight == pytest.approx(2.0)


def test_another_spring_kind_never_counts_for_more_than_its_ceiling() -> None:
    learned = cause_beliefs(PRIOR, {"scratch": 30}, {"dry_seal": 5000})
    assert learned.other_kind_weight == pytest.approx(OTHER_KIND_CEILING)
    assert learned.beliefs()["dry_seal"] == pytest.approx((5 + 10) / (8 + 30 + 10))


def test_own_tickets_outweigh_the_rest_in_the_end() -> None:
    learned = cause_beliefs(PRIOR, {"scratch": 9000, "dry_seal": 1000}, {"dry_seal": 5000})
    assert learned.beliefs()["scratch"] == pytest.approx(0.9, abs=0.003)


def test_kinds_are_told_apart_by_name() -> None:
    by_kind = {"air": {"scratch": 4}, "coil": {"dry_seal": 3, "scratch": 1}, "unknown": {"dry_seal": 5}}
    assert pooled_beliefs(PRIOR, by_kind, "air") == cause_beliefs(PRIOR, {"scratch": 4}, {"dry_seal": 8, "scratch": 1})
    assert pooled_beliefs(PRIOR, by_kind, "shim").tickets == 0


@pytest.mark.parametrize("weight", [0.0, -1.0, float("nan"), float("inf")])
def test_prior_weight_that_is_not_positive(weight: float) -> None:
    with pytest.raises(ValueError, match="'dry_seal'"):
        cause_beliefs({**PRIOR, "dry_seal": weight})


def test_no_causes() -> None:
    with pytest.raises(ValueError, match="at least one cause"):
        cause_beliefs({})


def test_tickets_for_an_unknown_cause() -> None:
    with pytest.raises(ValueError, match="'gremlin'"):
        cause_beliefs(PRIOR, {"gremlin": 1})
    with pytest.raises(ValueError, match="'gremlin'"):
        cause_beliefs(PRIOR, {}, {"gremlin": 1})


@pytest.mark.parametrize("count", [-1, 0.5])
def test_impossible_count_of_tickets(count: float) -> None:
    with pytest.raises(ValueError, match="'scratch'"):
        cause_beliefs(PRIOR, {"scratch": count})  # type: ignore[dict-item]
