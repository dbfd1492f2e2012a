"""Handing over as one act: the unit goes back, what is paid is written down, and the receipt has its number."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from workshop.charges.models import FinalCharges
from workshop.charges.sums import NOTHING
from workshop.staff.models import User
from workshop.tickets.booking import hold_numbers
from workshop.tickets.models import SettingsRecord, Ticket
from workshop.tickets.refusals import UnlawfulMove, refusal_words
from workshop.tickets.settings_record import NO_RECORD_YET, Settings
from workshop.till.models import HandOver
from workshop.till.receipts import issue_receipt
from workshop.till.standing import money_of
from workshop.till.taking import PaidPart, check_paid, settle, shared_out
from workshop.web.versions import StaleVersion
from workshop.work.hand_back import hand_back
from workshop.work.leaving import settings_as_it_leaves
from workshop.work.work import run_states


@dataclass(frozen=True)
class HowPaid:
    """How a hand-over is paid: in parts, the rest open on account or not; or how too much is paid back."""

    parts: Sequence[PaidPart] = ()
    on_account: bool = False
    back_by: str = ""
    with_receipt: bool = True
    together: Sequence[HandOver] = ()
    """What else goes on the same receipt."""


@dataclass(frozen=True)
class Along:
    """Another ready ticket that goes in the same act, at the version that was seen."""

    ticket: Ticket
    seen_version: int


@transaction.atomic
def hand_over(
    *,
    ticket: Ticket,
    by: User | None,
    seen_version: int,
    settings: Settings,
    paid: HowPaid,
    client_id: uuid.UUID,
    seen_settings_version: int = NO_RECORD_YET,
    reason: str = "",
    signed_by: str = "",
    along: Sequence[Along] = (),
) -> HandOver:
    """Hand a unit back, book what is paid for it and issue the receipt; all of it or nothing.

    A page that is sent twice hands over once, and comes back with the same hand-over.

    Args:
        along: what else goes in the same act, with the settings the bench read: one payment over all of it, one
            receipt.

    Raises:
        MoneyHeld: more was paid before than it comes to, and nobody said how it is paid back.
        ValidationError: paid is more than due, or less and not on account; a receipt cannot be issued; beside
            `along`, what goes along cannot go like that.
        Also whatever `hand_back` raises.
    """
    hold_numbers(ticket.shop)  # first of all locks, as whoever takes money or opens a ticket again does
    if (made := HandOver.objects.filter(client_id=client_id, ticket=ticket).first()) is not None:
        return made
    done: list[HandOver] = []

    def book_for(one: Ticket, own_id: uuid.UUID, back_by: str = "") -> Callable[[FinalCharges], None]:
        def book(final: FinalCharges) -> None:
            made = HandOver.objects.create(
                ticket=one, client_id=own_id, currency=final.currency, gross=final.gross, by=by, at=timezone.now()
            )
            done.append(made)
            if (due := final.gross - money_of(one)) < 0:
                settle(ticket=one, hand_over=made, due=due, parts=(), on_account=False, back_by=back_by, by=by)

        return book

    hand_back(
        ticket=ticket,
        by=by,
        seen_version=seen_version,
        settings=settings,
        seen_settings_version=seen_settings_version,
        reason=reason,
        signed_by=signed_by,
        settle=book_for(ticket, client_id, paid.back_by),
    )
    for other in along:
        own_id = uuid.uuid5(client_id, str(other.ticket.pk))  # sent twice, it is the same
        _hand_back_along(other, by, book_for(other.ticket, own_id))
    _settle_all(done, paid, by)
    charged = [one for one in done if one.gross]
    if paid.with_receipt and charged:
        issue_receipt(hand_overs=[*charged, *paid.together], by=by)
    return done[0]


def _hand_back_along(other: Along, by: User | None, settle: Callable[[FinalCharges], None]) -> None:
    ticket = other.ticket
    record = ticket.settings_records.filter(moment=SettingsRecord.Moment.HAND_BACK).first()
    try:
        hand_back(
            ticket=ticket,
            by=by,
            seen_version=other.seen_version,
            settings=settings_as_it_leaves(ticket, run_states(ticket)).settings,
            seen_settings_version=record.version if record else NO_RECORD_YET,
            settle=settle,
        )
    except StaleVersion:
        said = "somebody changed it meanwhile."
    except (UnlawfulMove, ValidationError) as refused:
        said = refusal_words(refused)
    else:
        return
    raise ValidationError({"along": f"Ticket {ticket.number}: {said} Leave it out, and hand it back by itself."})


def _settle_all(done: Sequence[HandOver], paid: HowPaid, by: User | None) -> None:
    """What is paid goes to one ticket after the other, until each has what is due for it."""
    dues = [one.gross - money_of(one.ticket) for one in done]
    owed = [(one, due) for one, due in zip(done, dues, strict=True) if due > 0]
    check_paid(sum((due for _, due in owed), NOTHING), paid.parts, on_account=paid.on_account, shop=done[0].ticket.shop)
    for (one, due), parts in zip(owed, shared_out(paid.parts, [due for _, due in owed]), strict=True):
        settle(ticket=one.ticket, hand_over=one, due=due, parts=parts, on_account=paid.on_account, back_by="", by=by)
