"""What the owner looks at first: how many tickets stand where, and what wants seeing to, most harmful first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Count, Q
from django.urls import reverse

from workshop.office.to_see_to import AT_ONCE, ROWS, Cure, Thing, cure_of, things_after_promises, things_before_promises
from workshop.promise.expected import stores_for_promises
from workshop.promise.honest import PromiseInDanger, mark_promises, promises_in_danger
from workshop.promise.queued import queued_tickets
from workshop.staff.guide_models import SetUpGuide
from workshop.staff.models import Shop
from workshop.tickets.inside import ticket_rows
from workshop.tickets.models import Ticket
from workshop.tickets.models.ticket import TicketQuerySet
from workshop.web.days import start_of
from workshop.web.long_lists import tally

COLLECT_AFTER_DAYS = 7


@dataclass(frozen=True)
class Overview:
    """Counts of open tickets by state, and everything that wants the owner in the order of harm."""

    counts: list[tuple[str, int]]
    things: list[Thing]
    guide_open: bool

    def thing(self, key: str) -> Thing | None:
        return next((one for one in self.things if one.key == key), None)


def overview_of(shop: Shop, today: date) -> Overview:
    """The owner's overview, in a number of queries that does not grow with the shop."""
    tickets = Ticket.objects.of_shop(shop)
    counts = tickets.open().aggregate(
        **{state.value: Count("pk", filter=Q(state=state)) for state in Ticket.OPEN_STATES}
    )
    queued = queued_tickets(shop)
    stores = stores_for_promises(shop, queued)
    dangers = promises_in_danger(shop, today, stores, queued)
    return Overview(
        counts=[(str(state.label), counts[state.value]) for state in Ticket.OPEN_STATES],
        things=[
            *things_before_promises(shop, today),
            *_promises(shop, dangers),
            *things_after_promises(shop, today, stores, dangers),
            *_uncollected(shop, today),
            *_waiting(shop, dangers),
        ],
        guide_open=SetUpGuide.objects.filter(shop=shop, left_at=None).exists(),
    )


def _promises(shop: Shop, dangers: Sequence[PromiseInDanger]) -> list[Thing]:
    first = dangers[:ROWS]
    shown = ticket_rows([danger.ticket_pk for danger in first], Ticket.objects.of_shop(shop).with_names())
    if not dangers:
        return []
    mark_promises(shown.values(), first)
    for danger in first:
        ticket = shown[danger.ticket_pk]
        ticket.cure = cure_of(ticket, danger)  # type: ignore[attr-defined]
    rows = [shown[danger.ticket_pk] for danger in first]
    late = sum(danger.kind == "late" for danger in dangers)
    why = f"{late} past the promised day." if late else "None is overdue yet."
    return [
        Thing(
            "promises", "Promises at risk", str(len(dangers)), why,
            Cure("The counter’s day", reverse("counter:today")),
            tickets=rows[AT_ONCE:], shown=rows[:AT_ONCE],
        )
    ]  # fmt: skip


def _uncollected(shop: Shop, today: date) -> list[Thing]:
    before = start_of(today - timedelta(days=COLLECT_AFTER_DAYS))
    rows = Ticket.objects.of_shop(shop).filter(state=Ticket.State.READY, state_since__lt=before)
    why = "What nobody collects nobody pays."
    return _of_tickets("uncollected", "Ready for more than a week", rows, why, "Tell the customer")


def _waiting(shop: Shop, dangers: Sequence[PromiseInDanger]) -> list[Thing]:
    """Those that wait and are in no danger: the others stand with their promise."""
    in_danger = [danger.ticket_pk for danger in dangers]
    rows = Ticket.objects.of_shop(shop).filter(state=Ticket.State.WAITING).exclude(pk__in=in_danger)
    why = "For parts or for an answer; their promises can still be kept."
    return _of_tickets("waiting", "Waiting", rows, why, "Open")


def _of_tickets(key: str, title: str, rows: TicketQuerySet, why: str, label: str) -> list[Thing]:
    """The longest in its state first, each with its own page."""
    shown = list(rows.with_names().order_by("state_since")[:ROWS])
    if not shown:
        return []
    for ticket in shown:
        ticket.cure = Cure(label, reverse("counter:ticket", args=[ticket.number]))  # type: ignore[attr-defined]
    every = Cure("All open tickets", reverse("counter:tickets"))
    return [Thing(key, title, str(tally(rows)), why, every, tickets=shown)]
