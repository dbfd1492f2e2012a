"""Parts that took the place of others, followed where a kit or a finding asks for one.

A superseded part is taken as long as the stores have enough of it, then the one that took its place. A part that
stands on the ticket for another, whoever put it there, is that other: it does not come twice.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any, TypeVar

from django.db.models import Exists, Model, OuterRef, Q, QuerySet

from specs.models import KitLine, Part, StandIn
from specs.stand_ins import chain_of, stand_ins_of, superseded_parts
from workshop.staff.models import Shop
from workshop.stock.models import StockItem
from workshop.stock.moving import NOTHING, with_levels
from workshop.tickets.models import PartLine, Ticket
from workshop.web.number_words import shop_price

Row = TypeVar("Row", bound=Model)


def marked(rows: QuerySet[Row]) -> QuerySet[Row]:
    """Rows of parts that say whether any part stands in for theirs, so that nothing is asked where none does."""
    others = StandIn.objects.filter(Q(part=OuterRef("part")) | Q(other=OuterRef("part")))
    annotated: QuerySet[Row] = rows.annotate(has_stand_in=Exists(others))  # type: ignore[assignment]
    return annotated


def is_marked(row: Any) -> bool:
    """Whether a row that `marked` gave has a part with stand-ins."""
    return bool(row.has_stand_in)


def price_change_words(before: Decimal | None, after: Decimal | None, shop: Shop) -> str:
    """What a part in another's place costs more or less than it, each; the shop's currency."""
    if after is None:
        return "it has no price yet"
    if before is None:
        return f"{shop_price(after, shop)} each"
    if after == before:
        return "the same price"
    return f"{shop_price(abs(after - before), shop)} {'more' if after > before else 'less'} each"


def parts_here(ticket: Ticket) -> set[int]:
    """Parts on a ticket that are needed or used, and what they were taken for; one query."""
    kept = ticket.part_lines.exclude(status=PartLine.Status.DROPPED).values_list("part", "instead_of")
    return {pk for pair in kept for pk in pair if pk is not None}


@dataclass(frozen=True)
class Succession:
    """What stands in for the parts of some kit lines; empty, and without a query, where nothing does."""

    kin: Mapping[int, Collection[int]] = field(default_factory=dict)
    superseded: Mapping[int, int] = field(default_factory=dict)
    levels: Mapping[int, Decimal] = field(default_factory=dict)
    parts: Mapping[int, Part] = field(default_factory=dict)

    @classmethod
    def of(cls, lines: Iterable[KitLine], shop_pk: int) -> Succession:
        """Of lines that came by `marked`; four queries where any of them has a stand-in."""
        asked = {line.part_id for line in lines if is_marked(line)}
        if not asked:
            return cls()
        superseded = superseded_parts()
        row = {pk for part in asked for pk in chain_of(part, superseded)}
        kept = with_levels(StockItem.objects.filter(shop=shop_pk, part__in=row))
        levels = {item.part_id: item.level for item in kept}  # type: ignore[attr-defined]
        return cls(stand_ins_of(), superseded, levels, Part.objects.in_bulk(row))

    def is_here(self, part_pk: int, here: Collection[int]) -> bool:
        """Whether a part, or one that stands for it, is among those."""
        return part_pk in here or any(one in here for one in self.kin.get(part_pk, ()))

    def taken_for(self, part: Part, quantity: Decimal) -> Part:
        """The first of the row that the stores have enough of, else the last that is made."""
        chain = chain_of(part.pk, self.superseded)
        enough = next((pk for pk in chain if self.levels.get(pk, NOTHING) >= quantity), chain[-1])
        return part if enough == part.pk else self.parts[enough]
