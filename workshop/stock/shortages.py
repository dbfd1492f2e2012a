"""Across the open tickets: what is missing, for which promise, and whose parts are here."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from django.db.models import Sum
from django.db.models.functions import Coalesce

from specs.models import Part
from workshop.staff.models import Shop
from workshop.stock.arrivals import Arrival, on_its_way, to_be_ordered
from workshop.stock.giving_up import keep_nothing, stand_behind
from workshop.stock.models import StockItem
from workshop.stock.moving import with_levels
from workshop.stock.purchase_models import OrderLine
from workshop.stock.sharing import NOTHING, ExpectedDelivery, Share, Want, share_out, suggested_order
from workshop.tickets.models import PartLine, Ticket


@dataclass(frozen=True)
class ItemStanding:
    """An item the shop keeps: what is there, on order and wanted, and who gets what."""

    item: StockItem
    level: Decimal
    deliveries: Sequence[ExpectedDelivery]
    shares: Sequence[Share]

    @property
    def on_order(self) -> Decimal:
        return sum((delivery.quantity for delivery in self.deliveries), NOTHING)

    @property
    def wanted(self) -> Decimal:
        return sum((share.want.quantity for share in self.shares), NOTHING)

    @property
    def may_be_given(self) -> list[Share]:
        """Those that lack it while other tickets before them have some, or have it sooner."""
        return [
            share
            for place, share in enumerate(self.shares)
            if not share.is_here and any(_is_better_off(before, share) for before in self.shares[:place])
        ]

    @property
    def missing_shares(self) -> list[Share]:
        return [share for share in self.shares if share.missing]

    @property
    def missing(self) -> Decimal:
        return sum((share.missing for share in self.shares), NOTHING)

    def arrival_of(self, share: Share, today: dt.date, unknown_days: int, learned: Mapping[str, int]) -> Arrival:
        """When what a share lacks is here: with its order, or once it was ordered today.

        What the supplier's deliveries say of his days (`learned`, by his name) goes before the days of the part.
        """
        title, lead_days = self.item.part.description, learned.get(self.item.supplier, self.item.lead_days)
        if share.missing or share.last_delivery is None:
            arrival = to_be_ordered(title, lead_days, today, unknown_days)
        else:
            arrival = on_its_way(title, share.last_delivery, lead_days, today, unknown_days)
        return replace(arrival, of=self.item.part_id)

    @property
    def suggested(self) -> Decimal:
        part = self.item.part
        return suggested_order(self.level, self.on_order, self.wanted, self.item.reorder_level, part.bottle_ml)


def _is_better_off(before: Share, share: Share) -> bool:
    if before.want.ticket_pk == share.want.ticket_pk:
        return False
    later = share.missing or before.last_delivery != share.last_delivery
    return bool(before.there or (before.coming and later))


@dataclass(frozen=True)
class NotKept:
    """What tickets want and the shop has no place for: a part of the list, or words."""

    title: str
    part: Part | None
    wants: Sequence[Want]

    @property
    def of(self) -> int | str:
        """What it is: the key of a part, or words."""
        return self.title if self.part is None else self.part.pk


@dataclass(frozen=True)
class PartsStanding:
    """Everything the open tickets want, against the stores."""

    items: Sequence[ItemStanding]
    not_kept: Sequence[NotKept]

    def parts_here(self) -> set[int]:
        """Tickets of which every part that is still needed is there, kept for them by the order of promises."""
        wanting: dict[int, bool] = defaultdict(lambda: True)
        for standing in self.items:
            for share in standing.shares:
                wanting[share.want.ticket_pk] &= share.is_here
        for other in self.not_kept:
            for want in other.wants:
                wanting[want.ticket_pk] = False
        return {ticket_pk for ticket_pk, all_here in wanting.items() if all_here}

    def arrivals(self, today: dt.date, unknown_days: int, learned: Mapping[str, int]) -> dict[int, Arrival]:
        """For each ticket that lacks a part: when the last of its parts is here, and which one that is.

        `unknown_days` stands for a part whose lead time nobody has entered, and for an order expected on no day.
        """
        last: dict[int, Arrival] = {}
        for standing in self.items:
            for share in standing.shares:
                if not share.is_here:
                    _later(last, share.want.ticket_pk, standing.arrival_of(share, today, unknown_days, learned))
        for other in self.not_kept:
            arrival = replace(to_be_ordered(other.title, None, today, unknown_days), of=other.of)
            for want in other.wants:
                _later(last, want.ticket_pk, arrival)
        return last


_OF_PARTS = tuple(f"part__{field}" for field in ("number", "description", "role", "measure", "size", "bottle_ml"))


def _later(last: dict[int, Arrival], ticket_pk: int, arrival: Arrival) -> None:
    if ticket_pk not in last or arrival.day > last[ticket_pk].day:
        last[ticket_pk] = arrival


def stores_standing(
    shop: Shop,
    *,
    with_quiet_items: bool = True,
    only_parts: Collection[int] | None = None,
    also_parts: Collection[int] = (),
) -> PartsStanding:
    """In four queries, however many tickets and parts there are; five where tickets that wait give up their parts.

    Args:
        with_quiet_items: also items that no open ticket wants, for the reorder points.
        only_parts: keys of the parts that are asked about; all of them where it is None.
        also_parts: keys of parts that are to be there though no open ticket wants them.
    """
    wants, titles = _wants(shop, only_parts)
    items = with_levels(StockItem.objects.filter(shop=shop).select_related("part"))
    if not with_quiet_items:
        items = items.filter(part__in=[*(key for key in wants if isinstance(key, int)), *also_parts])
    if only_parts is not None:
        items = items.filter(part__in=only_parts)
    coming = deliveries_of(shop)
    standings = []
    for item in items.order_by("supplier", "part__number"):
        level: Decimal = item.level  # type: ignore[attr-defined]
        deliveries = coming.get(item.pk, [])
        shares = share_out(level, deliveries, wants.pop(item.part_id, []))
        standings.append(ItemStanding(item, level, deliveries, shares))
    not_kept = [NotKept(titles[key][0], titles[key][1], rest) for key, rest in wants.items() if rest]
    return PartsStanding(standings, not_kept)


def deliveries_of(shop: Shop) -> dict[int, list[ExpectedDelivery]]:
    """What is still to come of each item, by the shop's open orders; one query."""
    lines = OrderLine.objects.filter(order__shop=shop, order__closed_at__isnull=True).order_by("order__number")
    lines = lines.annotate(came=Sum("movements__quantity"), day=Coalesce("expected_on", "order__expected_on"))
    rows = lines.values_list("item", "ordered", "came", "day", "order__number")
    coming: dict[int, list[ExpectedDelivery]] = defaultdict(list)
    for item, ordered, came, expected_on, number in rows:
        if ordered > (came or NOTHING):
            coming[item].append(ExpectedDelivery(ordered - (came or NOTHING), expected_on, number))
    return dict(coming)


def _wants(
    shop: Shop, only_parts: Collection[int] | None
) -> tuple[dict[int | str, list[Want]], Mapping[int | str, tuple[str, Part | None]]]:
    """Wants of open tickets by part, or by the words of a line without one; none of those the customer said no to."""
    released, behind = keep_nothing(shop), stand_behind(shop)
    lines = PartLine.objects.filter(
        status=PartLine.Status.NEEDED, ticket__shop=shop, ticket__state__in=Ticket.OPEN_STATES
    ).select_related("ticket", "part")
    if only_parts is not None:
        lines = lines.filter(part__in=only_parts)
    lines = lines.only("words", "quantity", "given_at", "ticket__number", "ticket__promised_on", *_OF_PARTS)
    wants: dict[int | str, list[Want]] = defaultdict(list)
    titles: dict[int | str, tuple[str, Part | None]] = {}
    for line in lines.order_by("ticket__promised_on", "ticket__number", "pk"):
        if line.ticket_id in released:
            continue
        key: int | str = line.part_id if line.part_id is not None else line.words
        titles[key] = (line.title, line.part)
        ticket = line.ticket
        want = Want(ticket.pk, ticket.number, ticket.promised_on, line.quantity, line.pk, line.given_at)
        wants[key].append(replace(want, behind=True) if ticket.pk in behind else want)
    return wants, titles
