"""Parts that a ticket is going to need before anything was put on it: its model's smallest service kit."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Sequence
from decimal import Decimal

from specs.models import KitLine, ServiceKit
from workshop.promise.queued import QueuedTicket
from workshop.staff.models import Shop
from workshop.stock.arrivals import Arrival, to_be_ordered
from workshop.stock.sharing import Want, share_out
from workshop.stock.shortages import stores_standing
from workshop.tickets.models import PartLine


def expected_arrivals(
    shop: Shop, tickets: Sequence[QueuedTicket], today: dt.date, unknown_days: int
) -> dict[int, Arrival]:
    """For each ticket without a part line whose kit is not all there: when the last of it is, and which part that is.

    What is there or on order is first for the lines of tickets, then for these, in the order they are given. So a
    booking and the ticket it becomes are told the same, until a mechanic says what is really needed. In five queries.
    """
    bare = [ticket for ticket in tickets if ticket.model_pk is not None]
    told = set(PartLine.objects.filter(ticket__in=[ticket.pk for ticket in bare]).values_list("ticket", flat=True))
    bare = [ticket for ticket in bare if ticket.pk not in told]
    kits = _smallest_kits({ticket.model_pk for ticket in bare if ticket.model_pk is not None})
    parts = {line.part_id for lines in kits.values() for line in lines}
    if not parts:
        return {}
    known = {row.item.part_id: row for row in stores_standing(shop, only_parts=parts).items}
    wants: dict[int, list[Want]] = defaultdict(list)
    last: dict[int, Arrival] = {}
    for place, ticket in enumerate(bare):
        for line in kits.get(ticket.model_pk or 0, ()):
            if line.part_id in known:
                wants[line.part_id].append(Want(ticket.pk, place, dt.date.max, Decimal(line.quantity)))
            else:
                _later(last, ticket.pk, to_be_ordered(line.part.description, None, today, unknown_days))
    for part, its in wants.items():
        row = known[part]
        of_lines = [share.want for share in row.shares]
        for share in share_out(row.level, row.deliveries, [*of_lines, *its])[len(of_lines) :]:
            if not share.is_here:
                _later(last, share.want.ticket_pk, row.arrival_of(share, today, unknown_days))
    return last


def _smallest_kits(models: Iterable[int]) -> dict[int, list[KitLine]]:
    """The lines of the smallest service that each model has a kit for; one query."""
    order = {level: place for place, level in enumerate(ServiceKit.Level.values)}
    lines: dict[int, list[KitLine]] = defaultdict(list)
    for line in KitLine.objects.filter(kit__model__in=list(models)).select_related("part", "kit").order_by("pk"):
        lines[line.kit.model_id].append(line)
    smallest = {model: min(order[line.kit.level] for line in its) for model, its in lines.items()}
    return {model: [line for line in its if order[line.kit.level] == smallest[model]] for model, its in lines.items()}


def _later(last: dict[int, Arrival], ticket_pk: int, arrival: Arrival) -> None:
    if ticket_pk not in last or arrival.day > last[ticket_pk].day:
        last[ticket_pk] = arrival
