"""Parts of which nobody has said what became of them: before a ticket is ready or leaves, each is used or not."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction

from workshop.staff.models import User
from workshop.stock.moving import NotEnoughInStock
from workshop.tickets.models import PartLine, Ticket
from workshop.tickets.refusals import UnlawfulMove
from workshop.work.part_lines import PartLineRefused, drop_part_line, hold_open_for_parts, set_quantity, use_part_line

ASKED_BEFORE = (Ticket.State.READY, Ticket.State.HANDED_BACK)
_NAMED = 3


class PartsUnresolved(UnlawfulMove):
    """Nobody has said of these lines whether they were used; neither charged nor taken, they would vanish."""

    def __init__(self, lines: Sequence[PartLine], to_state: str) -> None:
        named = ", ".join(f"“{line.title}”" for line in lines[:_NAMED])
        more = len(lines) - _NAMED
        rest = f" and {more} more" if more > 0 else ""
        not_yet = "handed back" if to_state == Ticket.State.HANDED_BACK else "ready"
        super().__init__(f"Not {not_yet} yet. Say of each part whether it was used: {named}{rest}.")
        self.lines = lines


class PartAnswersRefused(ValueError):
    """Some answers cannot be kept, so none is; `reasons` by the line's key."""

    def __init__(self, reasons: Mapping[int, str]) -> None:
        super().__init__(" ".join(reasons.values()))
        self.reasons = reasons


@dataclass(frozen=True)
class PartAnswer:
    """What became of a line: `quantity` of it used, or None, not used. `seen` is the quantity that was asked about."""

    line_pk: int
    quantity: Decimal | None
    seen: Decimal


def unresolved_lines(ticket: Ticket) -> list[PartLine]:
    """Lines that are needed still, in the order they came; one query."""
    needed = ticket.part_lines.filter(status=PartLine.Status.NEEDED)
    return list(needed.select_related("part", "ticket", "step").order_by("pk"))


def check_parts_are_resolved(ticket: Ticket, to_state: str) -> None:
    """Raise PartsUnresolved where a ticket would be ready, or leave, with parts that nobody has answered for."""
    if to_state in ASKED_BEFORE and (lines := unresolved_lines(ticket)):
        raise PartsUnresolved(lines, to_state)


@transaction.atomic
def resolve_parts(*, ticket: Ticket, answers: Iterable[PartAnswer], by: User | None) -> None:
    """Keep what became of each line: used, and out of the stores, or dropped, and free for other tickets again.

    All of them or none.

    Raises:
        PartAnswersRefused: a line is not the ticket's, was answered or changed by somebody else meanwhile, or the
            stores do not have what was used.
        ValidationError: the ticket is handed back.
    """
    hold_open_for_parts(ticket)
    lines = {line.pk: line for line in ticket.part_lines.select_related("part", "ticket")}
    reasons: dict[int, str] = {}
    for answer in answers:
        line = lines.get(answer.line_pk)
        if line is None:
            reasons[answer.line_pk] = "One of these parts is not on this ticket any more. Look at the list again."
            continue
        try:
            _resolve(line, answer, by)
        except (PartLineRefused, NotEnoughInStock) as refused:
            reasons[line.pk] = str(refused)
        except ValidationError as refused:
            reasons[line.pk] = " ".join(refused.messages)
    if reasons:
        raise PartAnswersRefused(reasons)


def _resolve(line: PartLine, answer: PartAnswer, by: User | None) -> None:
    with transaction.atomic():
        if answer.quantity is None:
            drop_part_line(line=line, by=by)
            return
        if answer.quantity != answer.seen or line.quantity != answer.seen:
            set_quantity(line=line, quantity=answer.quantity, seen=answer.seen, by=by)
        use_part_line(line=line, by=by, taking_from=None)  # it is in the unit already
