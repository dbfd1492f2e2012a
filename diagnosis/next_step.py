"""Why a step is next, what the suggested order saves, and what an answer does to the beliefs. Pure.

The chances and minutes are those of ``diagnosis.ordering``.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from diagnosis.ordering import (
    SearchStep,
    best_order,
    check_beliefs,
    check_steps,
    expected_minutes,
    handbook_order,
    remaining_steps,
)

RULES_OUT = frozenset({"ruled_out", "not_proved"})
ENDS_SEARCH = frozenset({"found", "proved"})
NO_NEWS = frozenset({"cant_tell", "done", "left_out", "still_pulling"})

VANISHED = 1e-12

NUMBER_WORDS = (
    *("no", "one", "two", "three", "four", "five", "six"),
    *("seven", "eight", "nine", "ten", "eleven", "twelve"),
)
SHARE_WORDS = (
    (0.97, "nearly all"), (0.9, "about nine in ten"), (0.8, "about four in five"), (0.75, "about three in four"),
    (2 / 3, "about two in three"), (0.6, "about three in five"), (0.5, "about half"), (0.4, "about two in five"),
)  # fmt: skip


class EveryCauseRuledOutError(ValueError):
    """An answer contradicts every cause still believed in, so no listed cause fits what was seen."""

    def __init__(self, step_key: str) -> None:
        super().__init__(f"after step '{step_key}' no listed cause fits what was seen")
        self.step_key = step_key


def update_beliefs(beliefs: Mapping[str, float], step: SearchStep, outcome: str) -> dict[str, float]:
    """Beliefs after ``step`` ended in ``outcome``, by Bayes' rule.

    Ruled out (or a proof that failed): ``belief * (1 - chance)``; found (or proved): ``belief * chance``;
    both made to sum to 1 again. "Can't tell", and a work step done or left out, say nothing about the cause.
    Raises ``EveryCauseRuledOutError`` when nothing is left to share out, ``ValueError`` for another outcome.
    """
    check_beliefs(beliefs)
    check_steps([SearchStep(step.key, step.minutes, frozenset(), step.ends_search)])
    for cause in step.ends_search:
        if cause not in beliefs:
            raise ValueError(f"step '{step.key}' ends the search for '{cause}', which has no belief")
    if outcome in NO_NEWS:
        return dict(beliefs)
    if outcome in RULES_OUT:
        left = {cause: belief * (1.0 - step.ends_search.get(cause, 0.0)) for cause, belief in beliefs.items()}
    elif outcome in ENDS_SEARCH:
        left = {cause: belief * step.ends_search.get(cause, 0.0) for cause, belief in beliefs.items()}
    else:
        raise ValueError(f"'{outcome}' is not an outcome of step '{step.key}'")
    total = math.fsum(left.values())
    if total < VANISHED:
        raise EveryCauseRuledOutError(step.key)
    return {cause: weight / total for cause, weight in left.items()}


@dataclass(frozen=True)
class BeliefsNow:
    """Beliefs after a run's answers; ``contradicted_at`` is the first step no listed cause could explain."""

    beliefs: dict[str, float]
    contradicted_at: str | None = None


def beliefs_after(beliefs: Mapping[str, float], answers: Iterable[tuple[SearchStep, str]]) -> BeliefsNow:
    """Beliefs after a run's answers in turn.

    An answer that rules out every cause left is reported and leaves the beliefs as they were before it, so
    that the bench can go on and the screen can say that no listed cause fits.
    """
    now = dict(beliefs)
    contradicted_at: str | None = None
    for step, outcome in answers:
        try:
            now = update_beliefs(now, step, outcome)
        except EveryCauseRuledOutError as contradiction:
            contradicted_at = contradicted_at or contradiction.step_key
    return BeliefsNow(now, contradicted_at)


@dataclass(frozen=True)
class NextStepReason:
    """Why ``key`` is next. ``share`` is the chance, given the beliefs now, that it ends the search."""

    key: str
    minutes: float
    share: float
    is_safety: bool
    leads_to: str | None  # the first later step that needs this one and can end the search
    suggested_minutes: float
    handbook_minutes: float

    @property
    def saved_minutes(self) -> float:
        """Minutes the suggested order saves on average over the handbook order, from here to the end."""
        return max(self.handbook_minutes - self.suggested_minutes, 0.0)

    def sentence(self, titles: Mapping[str, str] | None = None, *, verb: str = "settles") -> str:
        """One sentence for the screen, such as "Six minutes, settles about one in three of these."."""
        spent = minutes_in_words(self.minutes)
        if self.share > 0.0:
            said = f"{spent}, {verb} {share_in_words(self.share)} of these"
        elif self.is_safety:
            said = f"{spent}, a safety step that keeps its place"
        elif self.leads_to is not None:
            title = (titles or {}).get(self.leads_to, self.leads_to)
            said = f"{spent}, needed before “{title}”"
        else:
            said = f"{spent}, next in the standard order"
        return said[0].upper() + said[1:] + "."

    @property
    def saved_in_words(self) -> str:
        """The minutes saved, such as "five minutes"."""
        return minutes_in_words(self.saved_minutes)

    def saving_sentence(self) -> str:
        """What the suggested order saves on average, in words; empty below half a minute."""
        if self.saved_minutes < 0.5:
            return ""
        return f"This order saves about {self.saved_in_words} on average."


def next_step_reason(
    steps: Sequence[SearchStep],
    beliefs: Mapping[str, float],
    *,
    pinned: Iterable[str] = (),
    done: Iterable[str] = (),
    order: Sequence[str] | None = None,
) -> NextStepReason | None:
    """Why the first step of ``order`` (the suggested one when not given) is next; None when none is left.

    ``steps`` are all the steps in handbook order, ``done`` those already answered, ``beliefs`` the present
    ones. ``order`` may name the handbook order, to say why its next step is next.
    """
    gone = frozenset(done)
    left = remaining_steps(steps, gone)
    if not left:
        return None
    held = frozenset(pinned) - gone
    suggested = best_order(left, beliefs, pinned=held)
    shown = suggested if order is None else tuple(key for key in order if key not in gone)
    by_key = {step.key: step for step in left}
    if not shown or shown[0] not in by_key:
        raise ValueError(f"the order does not start with one of the steps left: {list(shown[:1])}")
    step = by_key[shown[0]]
    return NextStepReason(
        key=step.key,
        minutes=step.minutes,
        share=_share(step, beliefs),
        is_safety=step.key in held,
        leads_to=_leads_to(step.key, shown, by_key, beliefs),
        suggested_minutes=expected_minutes(suggested, left, beliefs),
        handbook_minutes=expected_minutes(handbook_order(left, pinned=held), left, beliefs),
    )


def _share(step: SearchStep, beliefs: Mapping[str, float]) -> float:
    return math.fsum(beliefs[cause] * chance for cause, chance in step.ends_search.items())


def _leads_to(
    key: str, order: Sequence[str], by_key: Mapping[str, SearchStep], beliefs: Mapping[str, float]
) -> str | None:
    opened = {key}
    for later in order[1:]:
        if by_key[later].needs & opened:
            if _share(by_key[later], beliefs) > 0.0:
                return later
            opened.add(later)
    return None


def minutes_in_words(minutes: float) -> str:
    """Whole minutes, in words up to twelve: "half a minute", "six minutes", "25 minutes"."""
    if minutes < 0.25:
        return "no time"
    if minutes < 0.75:
        return "half a minute"
    whole = math.floor(minutes + 0.5)
    if whole == 1:
        return "one minute"
    return f"{NUMBER_WORDS[whole] if whole < len(NUMBER_WORDS) else whole} minutes"


def share_in_words(share: float) -> str:
    """A chance as a plain fraction: "about one in three", "fewer than one in fifty"."""
    if share >= 0.995:
        return "all"
    if share < 0.02:
        return "fewer than one in fifty"
    if share >= 0.4:
        return min(SHARE_WORDS, key=lambda pair: abs(pair[0] - share))[1]
    one_in = round(1.0 / share)
    return f"about one in {NUMBER_WORDS[one_in] if one_in < len(NUMBER_WORDS) else one_in}"
