"""Taking a hand-over back: at once for the wrong row, or later with a reason and a credit note."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from workshop.charges.models import FinalCharges
from workshop.intervals.services import uncount_services_done
from workshop.staff.models import User
from workshop.tickets.booking import hold_numbers
from workshop.tickets.logbook import log
from workshop.tickets.models import StateMove, Ticket
from workshop.tickets.one_open import check_opens_alone
from workshop.tickets.refusals import UnlawfulMove
from workshop.till.crediting import credit
from workshop.till.models import HandOver, HandOverTakenBack, Receipt
from workshop.till.standing import paid_for, standing_hand_over
from workshop.web.versions import take_version


@transaction.atomic
def undo_hand_over(*, ticket: Ticket, by: User | None, seen_version: int) -> None:
    """The wrong row: the ticket is where it was before. Only while nothing was paid with it and no receipt is out.

    Raises:
        UnlawfulMove: it is not handed over, or something was paid or issued.
        OpenElsewhere: its unit is in the shop on another ticket.
        StaleVersion: somebody changed the ticket meanwhile.
    """
    one = _held(ticket, seen_version)
    if not paid_for(ticket, one.gross).may_be_undone:
        raise UnlawfulMove(
            "Something was paid, or its receipt is out. Open it again with a reason; a credit note then says so."
        )
    _open_again(ticket, one, by, reason="")
    log(ticket=ticket, by=by, kind="hand_over_undone")


@transaction.atomic
def open_again(*, ticket: Ticket, reason: str, by: User | None, seen_version: int) -> Receipt | None:
    """Open a ticket again that was handed over. Its receipt stays, and a credit note follows; what was paid stays paid.

    Returns:
        The credit note, where there was a receipt.

    Raises:
        ValidationError: without a reason.
        UnlawfulMove: it is not handed over, or was so before payments were kept.
        OpenElsewhere: its unit is in the shop on another ticket.
        StaleVersion: somebody changed the ticket meanwhile.
    """
    if not reason.strip():
        raise ValidationError({"reason": "Say why it is opened again."})
    one = _held(ticket, seen_version)
    note = credit(hand_over=one, reason=reason, by=by)
    _open_again(ticket, one, by, reason=reason.strip())
    log(ticket=ticket, by=by, kind="opened_again", values={"reason": reason.strip()})
    return note


def _held(ticket: Ticket, seen_version: int) -> HandOver:
    hold_numbers(ticket.shop)
    take_version(ticket, seen_version)
    if ticket.state != Ticket.State.HANDED_BACK:
        raise UnlawfulMove("It is not handed back.")
    one = standing_hand_over(ticket)
    if one is None:
        raise UnlawfulMove("It was handed back before payments were kept here, and stays as it is.")
    return one


def _open_again(ticket: Ticket, one: HandOver, by: User | None, reason: str) -> None:
    """Back to the state before, with its charges open again; services count anew when it is handed back again."""
    before = StateMove.objects.filter(ticket=ticket, to_state=Ticket.State.HANDED_BACK).latest("pk").from_state
    check_opens_alone(ticket, before)
    now = timezone.now()
    HandOverTakenBack.objects.create(hand_over=one, reason=reason, by=by, at=now)
    FinalCharges.objects.filter(ticket=ticket).delete()
    uncount_services_done(ticket=ticket, by=by)
    ticket.state, ticket.state_since = before, now
    ticket.save(update_fields=["state", "state_since"])
    StateMove.objects.create(
        ticket=ticket, from_state=Ticket.State.HANDED_BACK, to_state=before, reason=reason, by=by, at=now
    )
