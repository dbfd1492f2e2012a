"""Lines that a warranty bears, the shop's or a maker's: named on every paper, owed by nobody, no turnover."""

from __future__ import annotations

from collections.abc import Iterable

from django.core.exceptions import ValidationError
from django.db import transaction

from workshop.charges.labour import hold_open_for_labour
from workshop.charges.models import LabourLine
from workshop.staff.models import User
from workshop.tickets.logbook import log
from workshop.tickets.models import PartLine, Ticket
from workshop.tickets.models.part_line import Warranty


def lines_for_warranty(
    ticket: Ticket, labour: Iterable[LabourLine] | None = None, parts: Iterable[PartLine] | None = None
) -> list[LabourLine | PartLine]:
    """Everything on a ticket that a customer may owe; a query each for labour and parts not given."""
    if labour is None:
        labour = ticket.labour_lines.filter(dropped=False)
    if parts is None:
        parts = ticket.part_lines.select_related("part").order_by("pk")
    return [*labour, *(line for line in parts if line.status != PartLine.Status.DROPPED)]


def words_of_line(line: LabourLine | PartLine) -> str:
    return line.words if isinstance(line, LabourLine) else line.title


@transaction.atomic
def bear(*, line: LabourLine | PartLine, warranty: str, by: User | None) -> None:
    """Say who bears a line, or with "" that the customer owes it after all. The same again changes nothing.

    Raises:
        ValidationError: no such warranty, the line was dropped, or the ticket is handed back.
    """
    hold_open_for_labour(line.ticket)
    if warranty and warranty not in Warranty.values:
        raise ValidationError({"warranty": "Choose who bears it."})
    line.refresh_from_db(fields=["warranty", "dropped" if isinstance(line, LabourLine) else "status"])
    if line.dropped if isinstance(line, LabourLine) else line.status == PartLine.Status.DROPPED:
        raise ValidationError({"line": f"“{words_of_line(line)}” was removed meanwhile."})
    if line.warranty == warranty:
        return
    line.warranty = warranty
    line.save(update_fields=["warranty"])
    kind = "warranty_bears" if warranty else "warranty_dropped"
    log(ticket=line.ticket, by=by, kind=kind, values={"line": words_of_line(line), "warranty": warranty})
