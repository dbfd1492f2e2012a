"""Across the open tickets: what is missing, for which promise, and whose parts are here."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Sum

from specs.models import Part
from workshop.staff.models import Shop
from workshop.stores.models import StockItem, StockMovement
from workshop.stores.moving import levels_of
from workshop.stores.purchase_models import OrderLine
from workshop.stores.sharing import NOTHING, Share, Want, share_out, suggested_order
from workshop.tickets.models import PartLine, Ticket


@dataclass(frozen=True)
class ItemStanding:
    """An item the shop keeps: what is there, on order and wanted, and who gets what."""

    item: StockItem
    level: Decimal
    on_order: Decimal
    shares: Sequence[Share]

    @property
    def wanted(self) -> Decimal:
        return sum((share.want.quantity for share in self.shares), NOTHING)

    @property
    def missing_shares(self) -> list[Share]:
        return [share for share in self.shares if share.missing]

    @property
    def missing(self) -> Decimal:
        return sum((share.missing for share in self.shares), NOTHING)

    @property
    def suggested(self) -> Decimal:
        part = self.item.part
        return suggested_order(self.level, self.on_order, self.wanted, self.item.reorder_level, part.bottle_ml)


@dataclass(frozen=True)
class NotKept:
    """What tickets want and the shop has no place for: a part of the list, or words."""

    title: str
    part: Part | None
    wants: Sequence[Want]


@dataclass(frozen=True)
class Standing:
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

    def last_lead_days(self, unknown: int) -> dict[int, tuple[int, str]]:
        """For each ticket that lacks a part: the longest lead time in days, and of which part.

        `unknown` stands for a part whose lead time nobody has entered. What is on order counts its lead time too.
        """
        longest: dict[int, tuple[int, str]] = {}
        for standing in self.items:
            days = unknown if standing.item.lead_days is None else standing.item.lead_days
            for share in standing.shares:
                if not share.is_here:
                    _longer(longest, share.want.ticket_pk, days, standing.item.part.description)
        for other in self.not_kept:
            for want in other.wants:
                _longer(longest, want.ticket_pk, unknown, other.title)
        return longest


def _longer(longest: dict[int, tuple[int, str]], ticket_pk: int, days: int, title: str) -> None:
    if ticket_pk not in longest or days > longest[ticket_pk][0]:
        longest[ticket_pk] = (days, title)


def stores_standing(shop: Shop, *, with_quiet_items: bool = True) -> Standing:
    """In five queries, however many tickets and parts there are.

    Args:
        with_quiet_items: also items that no open ticket wants, for the reorder marks.
    """
    wants, titles = _wants(shop)
    items = StockItem.objects.filter(shop=shop).select_related("part").order_by("supplier", "part__number")
    if not with_quiet_items:
        items = items.filter(part__in=[key for key in wants if isinstance(key, int)])
    listed = list(items)
    levels = levels_of(item.pk for item in listed)
    coming = on_order_of(shop)
    standings = []
    for item in listed:
        level, on_order = levels.get(item.pk, NOTHING), coming.get(item.pk, NOTHING)
        standings.append(ItemStanding(item, level, on_order, share_out(level, on_order, wants.pop(item.part_id, []))))
    not_kept = [NotKept(titles[key][0], titles[key][1], rest) for key, rest in wants.items() if rest]
    return Standing(standings, not_kept)


def on_order_of(shop: Shop) -> dict[int, Decimal]:
    """What is still to come of each item, by the shop's open orders; two queries."""
    lines = OrderLine.objects.filter(order__shop=shop, order__closed_at__isnull=True)
    ordered = dict(lines.order_by().values_list("item").annotate(total=Sum("ordered")))
    came = dict(
        StockMovement.objects.filter(order_line__in=lines).order_by().values_list("item").annotate(Sum("quantity"))
    )
    return {item: total - came.get(item, NOTHING) for item, total in ordered.items()}


def _wants(shop: Shop) -> tuple[dict[int | str, list[Want]], Mapping[int | str, tuple[str, Part | None]]]:
    """Wants of open tickets by part, or by the words of a line without one."""
    lines = PartLine.objects.filter(
        status=PartLine.Status.NEEDED, ticket__shop=shop, ticket__state__in=Ticket.OPEN_STATES
    ).select_related("ticket", "part")
    wants: dict[int | str, list[Want]] = defaultdict(list)
    titles: dict[int | str, tuple[str, Part | None]] = {}
    for line in lines.order_by("ticket__promised_on", "ticket__number", "pk"):
        key: int | str = line.part_id if line.part_id is not None else line.words
        titles[key] = (line.title, line.part)
        wants[key].append(Want(line.ticket_id, line.ticket.number, line.ticket.promised_on, line.quantity))
    return wants, titles


def earliest_promise(shares: Sequence[Share]) -> dt.date | None:
    """The first promise that lacks something."""
    return min((share.want.promised_on for share in shares if share.missing), default=None)
