"""The parts on a ticket with what the stores have for them, and what they cost."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from diagnosis.models import Step
from workshop.stock.moving import NOTHING
from workshop.stock.sharing import ExpectedDelivery
from workshop.stock.shortages import ItemStanding, stores_standing
from workshop.tickets.models import PartLine, Ticket
from workshop.web.number_words import plain_price

Status = PartLine.Status

# A line names its step and who wrote it; what the step says to do is long and not needed for that.
_OF_STEPS_AND_PEOPLE = (
    *(f"step__{field.attname}" for field in Step._meta.concrete_fields if field.name not in {"id", "key", "title"}),
    *("by__password", "by__email", "by__last_login", "by__date_joined"),
)


@dataclass(frozen=True)
class LineShown:
    """A line with what the stores have for it. `in_stock` is None where the shop does not keep the part.

    `coming` is the order that all it lacks comes with, at the latest.
    """

    line: PartLine
    in_stock: bool | None
    level: Decimal | None
    wanted_elsewhere: Decimal
    coming: ExpectedDelivery | None = None

    @property
    def may_be_priced(self) -> bool:
        """No price list knows it: it is in words, not kept here, or came onto the ticket before it was."""
        return self.level is None or self.line.unit_price is None

    @property
    def price_typed(self) -> str:
        """The price as a field has it."""
        return plain_price(self.line.unit_price)

    @property
    def must_be_ordered(self) -> bool:
        return self.line.status == Status.NEEDED and self.in_stock is not True and self.coming is None


def lines_of(ticket: Ticket) -> list[LineShown]:
    """The ticket's lines with what the stores have for them, in a number of queries that does not depend on how many.

    In stock means: shared out by the order of promises, what is there covers the line.
    """
    lines = list(ticket.part_lines.select_related("part", "step", "by").defer(*_OF_STEPS_AND_PEOPLE).order_by("pk"))
    parts = {line.part_id for line in lines if line.part_id}
    kept = stores_standing(ticket.shop, only_parts=parts).items if parts else []
    items = {row.item.part_id: row for row in kept}
    return [_shown(line, items.get(line.part_id) if line.part_id else None) for line in lines]


def _shown(line: PartLine, standing: ItemStanding | None) -> LineShown:
    if standing is None:
        return LineShown(line, None, None, NOTHING)
    own = [share for share in standing.shares if share.want.ticket_pk == line.ticket_id]
    elsewhere = standing.wanted - sum((share.want.quantity for share in own), NOTHING)
    share = next((share for share in own if share.want.line_pk == line.pk), None)
    if share is None:  # used or dropped, or the ticket is closed: it has no claim
        return LineShown(line, standing.level - elsewhere >= line.quantity, standing.level, elsewhere)
    coming = None if share.missing else share.last_delivery
    return LineShown(line, share.is_here, standing.level, elsewhere, coming)


def total_of(lines: Iterable[LineShown]) -> Decimal:
    """What the lines that are needed or used cost together; lines without a price are left out."""
    return sum((shown.line.total or Decimal(0) for shown in lines if shown.line.status != Status.DROPPED), Decimal(0))
