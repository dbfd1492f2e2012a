"""What becomes of the parts on a ticket: another quantity, dropped, used, needed again."""

from __future__ import annotations

from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction

from diagnosis.models import Step
from workshop.staff.models import User
from workshop.stock.amounts import measured, unit_of
from workshop.stock.models import StockItem
from workshop.stock.moving import put_back_from_line, take_for_line
from workshop.tickets.logbook import log
from workshop.tickets.models import PartLine, Ticket
from workshop.web.number_words import figures

Source, Status = PartLine.Source, PartLine.Status


class PartLineRefused(ValueError):
    """The line cannot be changed like that; the message says why."""


class QuantityChanged(PartLineRefused):
    """Somebody else changed the quantity meanwhile; theirs stands."""

    def __init__(self, line: PartLine) -> None:
        super().__init__(
            f"Somebody changed “{line.title}” to {measured(line.quantity, line.part)} meanwhile. "
            "Change it again if that is wrong."
        )


@transaction.atomic
def drop_lines_of_step(*, ticket: Ticket, step: Step, by: User | None) -> int:
    """The answer was taken back: what it asked for and nobody used is needed no more."""
    lines = list(  # by the step's key: a step that several checklists share is one of each
        ticket.part_lines.filter(step__key=step.key, source=Source.FINDING, status=Status.NEEDED).select_related("part")
    )
    for line in lines:
        _change_status(line, Status.NEEDED, Status.DROPPED, by, "Part no longer needed")
    return len(lines)


@transaction.atomic
def set_quantity(*, line: PartLine, quantity: Decimal, seen: Decimal, by: User | None) -> PartLine:
    """Another quantity for a line that is still needed. `seen` is the one that was changed from.

    Raises ValidationError, PartLineRefused.
    """
    hold_open(line.ticket)
    before = line.quantity
    line.quantity = quantity
    check_line(line)
    if not PartLine.objects.filter(pk=line.pk, status=Status.NEEDED, quantity=seen).update(quantity=quantity):
        line.refresh_from_db(fields=["quantity", "status"])
        if line.status == Status.NEEDED:
            raise QuantityChanged(line)
        stays = measured(before, line.part)
        raise PartLineRefused(f"“{line.title}” was {line.status} meanwhile. Its quantity stays {stays}.")
    before = seen
    if quantity != before:
        log(
            ticket=line.ticket,
            by=by,
            kind="part_quantity",
            values={"part": line.title},
            changes={"quantity": [measured(before, line.part), measured(quantity, line.part)]},
        )
    return line


@transaction.atomic
def drop_part_line(*, line: PartLine, by: User | None) -> PartLine:
    """Not needed after all; it can be taken up again."""
    hold_open(line.ticket)
    return _change_status(line, Status.NEEDED, Status.DROPPED, by, "part_dropped")


@transaction.atomic
def use_part_line(*, line: PartLine, by: User | None) -> PartLine:
    """Fitted, and out of the stores if the shop keeps it. Raises workshop.stock.moving.NotEnoughInStock."""
    hold_open(line.ticket)
    _change_status(line, Status.NEEDED, Status.USED, by, "part_used")
    item = StockItem.objects.filter(shop=line.ticket.shop_id, part=line.part_id).select_related("part").first()
    if line.part_id and item is not None:
        take_for_line(item=item, line=line, by=by)
    return line


@transaction.atomic
def take_up_again(*, line: PartLine, by: User | None) -> PartLine:
    """Undo a drop or a use: the line is needed again and what it took is back in the stores."""
    hold_open(line.ticket)
    before = line.status
    _change_status(line, before, Status.NEEDED, by, "part_again")
    if before == Status.USED:
        put_back_from_line(line=line, by=by)
    return line


def check_line(line: PartLine) -> None:
    """Raises ValidationError where a line is not one: neither part nor words, or no quantity."""
    if line.part_id is None and not line.words:
        raise ValidationError({"words": "Choose a part or say in words what is needed."})
    if line.quantity <= 0:
        raise ValidationError({"quantity": "Enter a quantity above zero."})
    line.full_clean(exclude=["ticket", "part", "step", "by"], validate_constraints=False)


def hold_open(ticket: Ticket) -> None:
    """Hold the ticket, so that no part moves while it is handed back. Raises ValidationError after that."""
    state = Ticket.objects.select_for_update().values_list("state", flat=True).get(pk=ticket.pk)
    if state == Ticket.State.HANDED_BACK:
        raise ValidationError("This ticket is handed back; its parts and charges stand.")


def _change_status(line: PartLine, before: str, after: str, by: User | None, kind: str) -> PartLine:
    """One conditional UPDATE, so that of two tablets only one uses the part."""
    if not PartLine.objects.filter(pk=line.pk, status=before).update(status=after):
        line.refresh_from_db()
        raise PartLineRefused(f"“{line.title}” is already {line.get_status_display().lower()}. Look at it again.")
    line.status = after
    values = {"quantity": figures(line.quantity), "part": line.title, "unit": unit_of(line.part)}
    log(ticket=line.ticket, by=by, kind=kind, values=values)
    return line
