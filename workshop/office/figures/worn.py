"""What the answers of every checklist say of parts that wear: found bad, replaced as bad, or looked at and good.

Common practice, no published source. A part is found bad by a cause that says so (`ends_life`); at a step that can
find no cause, as in a service, by what answers the finding: the part it asks for, or the work that makes it new
(`renews`). What was found by the way at a step with causes says only what all its causes say. A part put in because of
a finding was replaced as bad, unless the cause says that another was. A check that would have found a part bad at
least every other time, and ruled it out, saw it good. A proof that failed afterwards makes no worn part good.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from django.utils import timezone

from diagnosis.models import Cause, Step, Tick
from diagnosis.runs_rules import FOUND, answer_of, can_end_search, causes_of
from workshop.office.figures.components import WORN_WITH_ROLE
from workshop.office.figures.lives import FoundBad, SeenGood
from workshop.staff.models import Shop
from workshop.tickets.models import PartLine, TicketRun
from workshop.web.days import start_of
from workshop.work.adding_parts import role_of_part

SEES_IT = 0.5
"""The chance from which on a check that ruled a cause out says that the part was good; the project's own choice."""


@dataclass
class Seen:
    """What was seen of the parts of one unit, by part."""

    bad: dict[str, list[FoundBad]] = field(default_factory=lambda: defaultdict(list))
    good: dict[str, list[SeenGood]] = field(default_factory=lambda: defaultdict(list))


@dataclass(frozen=True)
class _Telling:
    """What the answers of one step say: parts that a finding without a cause says are bad, and parts it looks at."""

    bad: frozenset[str]
    looks_at: frozenset[str]


def seen_of(shop: Shop, units: Collection[int], since: dt.date) -> defaultdict[int, Seen]:
    """What was seen of these units on tickets booked in from a day on; four queries."""
    ends = {key: frozenset(parts) for key, parts in Cause.objects.order_by().values_list("key", "ends_life")}
    telling = _telling_steps(ends)
    seen: defaultdict[int, Seen] = defaultdict(Seen)
    causes: dict[tuple[int, int], str] = {}
    for (ticket, _, step), (unit, on, outcome, cause, routine) in _answers(shop, units, since, telling).items():
        if outcome == FOUND:
            causes[ticket, step] = cause
            for part in ends.get(cause, frozenset()) if cause else telling[step].bad:
                seen[unit].bad[part].append(FoundBad(on, ticket, noticed=bool(cause) and not routine))
        elif outcome == Tick.Outcome.RULED_OUT:
            for part in telling[step].looks_at:
                seen[unit].good[part].append(SeenGood(on, ticket))
    for unit, ticket, on, step, role in _used_for_findings(shop, units, since):
        if not ends.get(causes.get((ticket, step), "")):
            for part in WORN_WITH_ROLE[role]:
                seen[unit].bad[part].append(FoundBad(on, ticket))
    return seen


def _telling_steps(ends: Mapping[str, Collection[str]]) -> dict[int, _Telling]:
    """The checks whose answers say something of a part that wears, or of a part put in for them, by their key."""
    steps = Step.objects.order_by().only("checklist", "key", "kind", "ends_search", "answers", "renews")
    listed = list(steps)
    renews = {(step.checklist_id, step.key): step.renews for step in listed if step.renews}
    told = {step.pk: _telling(step, ends, renews) for step in listed if step.kind == Step.Kind.CHECK}
    return {pk: one for pk, one in told.items() if one is not None}


def _telling(
    step: Step, ends: Mapping[str, Collection[str]], renews: Mapping[tuple[int, str], Sequence[str]]
) -> _Telling | None:
    answer = answer_of(step, FOUND)
    roles = [role_of_part(part["role"]) for part in answer.get("parts") or ()]
    asked_for = {part for role in roles for part in WORN_WITH_ROLE.get(role, ())}
    if not can_end_search(step):
        mended = {part for key in answer.get("repair") or () for part in renews.get((step.checklist_id, key), ())}
        bad = frozenset(asked_for | mended)
        return _Telling(bad, bad) if bad else None
    meant = [frozenset(ends.get(cause, ())) for cause in causes_of(step)]
    looks_at = {part for cause, chance in step.ends_search.items() if chance >= SEES_IT for part in ends.get(cause, ())}
    one = _Telling(frozenset.intersection(*meant), frozenset(looks_at))
    return one if any(meant) or one.looks_at or asked_for else None


_Place = tuple[int, int, int]
_Answer = tuple[int, dt.date, str, str, bool]


def _answers(
    shop: Shop, units: Collection[int], since: dt.date, steps: Mapping[int, _Telling]
) -> dict[_Place, _Answer]:
    """The answer that counts of each of these steps, by ticket, run and step; one query."""
    rows = (
        TicketRun.objects.filter(
            ticket__shop=shop, ticket__unit__in=units, ticket__booked_at__gte=start_of(since),
            run__ticks__step__in=list(steps),
        )
        .order_by("run__ticks")
        .values_list(
            "ticket", "run", "run__ticks__step", "ticket__unit", "ticket__booked_at", "run__ticks__outcome",
            "run__ticks__cause__key", "run__checklist__complaint__is_routine",
        )
    )  # fmt: skip
    return {
        (ticket, run, step): (unit, timezone.localtime(booked_at).date(), outcome, cause or "", routine)
        for ticket, run, step, unit, booked_at, outcome, cause, routine in rows
    }


def _used_for_findings(
    shop: Shop, units: Collection[int], since: dt.date
) -> Iterator[tuple[int, int, dt.date, int, str]]:
    """Unit, ticket, day, step and role of each part that a finding brought and that was put in; one query."""
    lines = PartLine.objects.filter(
        ticket__shop=shop, ticket__unit__in=units, ticket__booked_at__gte=start_of(since),
        status=PartLine.Status.USED, source=PartLine.Source.FINDING, part__role__in=list(WORN_WITH_ROLE),
    )  # fmt: skip
    fields = ("ticket__unit", "ticket", "ticket__booked_at", "step", "part__role")
    rows: Iterable[tuple[int, int, dt.datetime, int | None, str]] = lines.order_by("pk").values_list(*fields)
    for unit, ticket, booked_at, step, role in rows:
        yield unit, ticket, timezone.localtime(booked_at).date(), step or 0, role
