"""Tickets closed without a cause, shared out among the causes that nobody saw, and what checks find of each. Pure.

A cause that only a late check finds is seen on those tickets alone on which every check before it was ruled out and
somebody went on; of the others, and of what the last check misses, nothing is seen. Counting only what was found makes
late causes too rare and late checks too good (selection; verification bias). So both are estimated together by
expectation and maximisation (Dempster, Laird and Rubin 1977), at the top of the posterior: a ticket without a cause
counts for each cause by the chance that it is at work although its checks ruled it out, and those checks as having
missed it by as much.

The shipped weights are worth as many tickets as they say, the shipped chance of a check HIT_WORTH_TICKETS tries; that
number is this project's own, no published source. Tickets that were shared out move the shares and make none surer.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

from diagnosis.beliefs import CauseBeliefs, pooled_beliefs

HIT_WORTH_TICKETS = 10.0
TURNS, CLOSE = 500, 1e-7

Chances = Mapping[str, Mapping[str, float]]
"""The chance that a check finds a cause that is at work, by step key and cause."""
Tries = Mapping[tuple[str, str], tuple[int, int]]
"""By step key and cause: how often the check found the cause where it was at work, of how often it was done."""
Unexplained = Mapping[frozenset[str], int]
"""How many tickets ended without a cause, by the checks that ruled out what they look for."""


@dataclass(frozen=True)
class LearnedSearch:
    """Beliefs before any answer, and the chances of the checks, after what the tickets say."""

    beliefs: CauseBeliefs
    chances: Chances


def learned_search(
    prior_weights: Mapping[str, float],
    chances: Chances,
    tickets_by_kind: Mapping[str, Mapping[str, int]],
    spring_kind: str,
    tries: Tries,
    unexplained: Unexplained,
) -> LearnedSearch:
    """Shares of causes for one spring kind, and chances of checks, from what was found and what was not.

    Raises ValueError as diagnosis.beliefs.cause_beliefs does.
    """
    seen = pooled_beliefs(prior_weights, tickets_by_kind, spring_kind)
    known = {
        step: {cause: chance for cause, chance in of_step.items() if cause in prior_weights and chance > 0}
        for step, of_step in chances.items()
    }
    # What no check here was done for tells nothing of causes: it would only say what is believed anyway.
    told: Counter[frozenset[str]] = Counter()
    for done, count in unexplained.items():
        told[done.intersection(known)] += count
    del told[frozenset()]
    shares, found = seen.beliefs(), known
    weights = {figure.cause: figure.share * seen.weight for figure in seen.figures}
    for _ in range(TURNS):
        extra, missed = _shared_out(shares, found, told)
        total = seen.weight + sum(extra.values())
        next_shares = {cause: (weight + extra[cause]) / total for cause, weight in weights.items()}
        found = {
            step: {cause: _hit_rate(chance, tries.get((step, cause), (0, 0)), missed.get((step, cause), 0.0))
                   for cause, chance in of_step.items()}
            for step, of_step in known.items()
        }  # fmt: skip
        moved = max(abs(next_shares[cause] - share) for cause, share in shares.items())
        shares = next_shares
        if moved < CLOSE:
            break
    return LearnedSearch(seen.with_shares(shares), found)


def _hit_rate(shipped: float, tried: tuple[int, int], missed: float) -> float:
    """The mean of a Beta distribution: the shipped chance for so many tries, what was seen, and what was missed."""
    hits, times = tried
    return (HIT_WORTH_TICKETS * shipped + hits) / (HIT_WORTH_TICKETS + times + missed)


def _shared_out(
    shares: Mapping[str, float], chances: Chances, unexplained: Unexplained
) -> tuple[dict[str, float], dict[tuple[str, str], float]]:
    """Tickets without a cause by cause, and misses of checks by step key and cause, by Bayes' rule."""
    extra = dict.fromkeys(shares, 0.0)
    missed: dict[tuple[str, str], float] = {}
    for done, count in unexplained.items():
        left = {
            cause: share * math.prod(1 - chances[step].get(cause, 0.0) for step in done)
            for cause, share in shares.items()
        }
        total = math.fsum(left.values())
        if total <= 0:
            continue
        for cause, weight in left.items():
            part = count * weight / total
            extra[cause] += part
            for step in done:
                if cause in chances[step]:
                    missed[step, cause] = missed.get((step, cause), 0.0) + part
    return extra, missed
