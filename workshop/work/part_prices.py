"""Prices of what no price list knows: a part in words, or one that the shop does not keep."""

from __future__ import annotations

from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction

from workshop.staff.models import User
from workshop.tickets.logbook import log
from workshop.tickets.models import PartLine, Ticket
from workshop.web.number_words import price_in_words
from workshop.work.part_lines import PartLineRefused, hold_open_for_parts

_NAMED = 5


class UnpricedLines(ValidationError):
    """Parts were used that nobody has priced; what is charged would leave them out. `unpriced` are those."""

    def __init__(self, lines: list[PartLine]) -> None:
        named = ", ".join(f"“{line.title}”" for line in lines[:_NAMED])
        more = f" and {len(lines) - _NAMED} more" if len(lines) > _NAMED else ""
        super().__init__(
            f"Not handed back yet: {named}{more} {'have' if len(lines) > 1 else 'has'} no price. "
            "Set it in the ticket’s parts, or mark it free of charge there."
        )
        self.unpriced = lines


def unpriced_lines(ticket: Ticket) -> list[PartLine]:
    """Parts that were used and have neither a price nor the mark that they are free."""
    lines = ticket.part_lines.filter(status=PartLine.Status.USED, unit_price=None, warranty="").select_related("part")
    return list(lines.order_by("pk"))


def refuse_unpriced(ticket: Ticket) -> None:
    """Raises UnpricedLines: nothing is frozen out of a ticket's sum without anybody having said so."""
    lines = unpriced_lines(ticket)
    if lines:
        raise UnpricedLines(lines)


@transaction.atomic
def set_line_price(*, line: PartLine, price: Decimal, seen: Decimal | None, by: User | None) -> PartLine:
    """What each costs the customer, 0 for free. `seen` is the price that was changed from, None for none.

    Raises ValidationError for a price that cannot be, or once the ticket is handed back; PartLineRefused where
    somebody else priced it meanwhile, or the line was dropped.
    """
    hold_open_for_parts(line.ticket)
    line.unit_price = price
    if price < 0:
        raise ValidationError("A price cannot be below zero.")
    line.clean_fields(exclude=["ticket", "part", "step", "by", "words", "quantity", "source", "status", "note", "at"])
    lines = PartLine.objects.filter(pk=line.pk, unit_price=seen).exclude(status=PartLine.Status.DROPPED)
    if not lines.update(unit_price=price):
        line.refresh_from_db(fields=["unit_price", "status"])
        if line.status == PartLine.Status.DROPPED:
            raise PartLineRefused(f"“{line.title}” was removed meanwhile and needs no price.")
        now = price_in_words(line.unit_price)
        raise PartLineRefused(
            f"Somebody set the price of “{line.title}” to {now} meanwhile. Change it if that is wrong."
        )
    if price != seen:
        changes = {"price_each": [None if seen is None else str(seen), str(price)]}
        log(ticket=line.ticket, by=by, kind="part_priced", values={"part": line.title}, changes=changes)
    return line
