"""What this shop's handed-back tickets say about a complaint, kept for some minutes by each worker."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Sequence
from typing import Any

from django.core.cache import cache
from django.db.models import QuerySet
from django.db.models.fields.json import KeyTextTransform

from diagnosis.learning import ClosedTick, Learned, learn
from diagnosis.models import Complaint, MinutesCorrection
from workshop.staff.models import Shop
from workshop.tickets.models import Ticket, TicketRun

KEPT_SECONDS = 600
CAME_BACK_WITHIN = dt.timedelta(days=90)
"""The project's own choice, no published source; the Office counts come-backs by the same days."""
NEWEST_TICKETS = 500
"""Older tickets say little about today's forks and hands, and a page must not grow slower with the years."""


def learned_for(shop: Shop, complaint: Complaint | int) -> Learned:
    """What the newest handed-back tickets with this complaint say: three queries every ten minutes, else none."""
    complaint_pk = complaint if isinstance(complaint, int) else complaint.pk
    key = f"learned:{shop.pk}:{complaint_pk}"
    kept: Learned | None = cache.get(key)
    if kept is None:
        kept = _learn(shop, complaint_pk)
        cache.set(key, kept, KEPT_SECONDS)
    return kept


def _learn(shop: Shop, complaint_pk: int) -> Learned:
    tickets = (
        TicketRun.objects.filter(
            ticket__shop=shop,
            ticket__state=Ticket.State.HANDED_BACK,
            run__checklist__complaint=complaint_pk,
        )
        .order_by("-ticket")
        .values("ticket")
        .distinct()[:NEWEST_TICKETS]
    )
    ticks, corrected = ticks_of(tickets)
    came_back = came_back_with(shop, complaint_pk, {tick.visit for tick in ticks})
    return learn(ticks, complaint=complaint_pk, corrected_minutes=corrected, came_back=came_back)


def came_back_with(shop: Shop, complaint: int, tickets: Collection[int]) -> set[int]:
    """Those of these handed-back tickets whose unit was booked in again soon with this complaint; one query."""
    units = Ticket.objects.filter(pk__in=tickets).values("unit")
    again = Ticket.objects.filter(shop=shop, unit__in=units, complaints=complaint).exclude(
        state=Ticket.State.CALLED_OFF
    )
    rows = again.order_by("booked_at", "pk").values_list("pk", "unit", "booked_at", "state_since")
    back = set()
    before: dict[int, tuple[int, dt.datetime]] = {}
    for pk, unit, booked_at, state_since in rows:
        if unit in before:
            earlier, left_at = before[unit]
            if earlier in tickets and left_at <= booked_at <= left_at + CAME_BACK_WITHIN:
                back.add(earlier)
        before[unit] = (pk, state_since)
    return back


def ticks_of(tickets: QuerySet[Any] | Sequence[int]) -> tuple[list[ClosedTick], dict[tuple[int, str], float]]:
    """Every tick of these tickets in the order in which they were stored, and corrected minutes; two queries.

    Args:
        tickets: a query of tickets, or of one column with their primary keys, or these.
    """
    rows = (
        TicketRun.objects.filter(ticket__in=tickets, run__ticks__isnull=False)
        .order_by("run__ticks")
        .values_list(
            "ticket",
            "run",
            "run__started_at",
            "run__checklist__complaint",
            KeyTextTransform("spring_kind", "run__facts"),
            "run__ticks__step__key",
            "run__ticks__step__minutes",
            "run__ticks__outcome",
            "run__ticks__cause__key",
            "run__ticks__ticked_at",
            "run__ticks__counted_from",
            "run__ended_at",
        )
    )
    ticks = [
        ClosedTick(
            *(ticket, run, started, complaint, kind or "", key, minutes, outcome, cause or "", at),
            counted=source is not None,
            run_ended=ended is not None,
        )
        for ticket, run, started, complaint, kind, key, minutes, outcome, cause, at, source, ended in rows
    ]
    runs = TicketRun.objects.filter(ticket__in=tickets).order_by().values("run")
    corrections = MinutesCorrection.objects.filter(run__in=runs).order_by("pk")
    corrected = {(run, key): minutes for run, key, minutes in corrections.values_list("run", "step__key", "minutes")}
    return ticks, corrected
