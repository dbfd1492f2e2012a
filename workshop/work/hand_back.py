"""Handing a unit back: the settings it leaves with, and the last move."""

from __future__ import annotations

from collections.abc import Callable

from django.db import transaction

from workshop.charges.closing import freeze_charges
from workshop.charges.models import FinalCharges
from workshop.intervals.services import record_services_done
from workshop.staff.models import User
from workshop.tickets.models import SettingsRecord, StateMove, Ticket
from workshop.tickets.settings_record import NO_RECORD_YET, Settings, record_settings
from workshop.till.standing import money_of
from workshop.till.taking import MoneyHeld
from workshop.work.moves import move
from workshop.work.part_prices import refuse_unpriced


@transaction.atomic
def hand_back(
    *,
    ticket: Ticket,
    by: User | None,
    seen_version: int,
    settings: Settings,
    seen_settings_version: int = NO_RECORD_YET,
    reason: str = "",
    signed_by: str = "",
    settle: Callable[[FinalCharges], None] | None = None,
) -> StateMove:
    """Write down the settings at hand-back, which services it was and what is charged, and close the ticket.

    Args:
        settle: books what is paid, once it is known what is charged.

    Raises:
        UnpricedLines: a part that was used has neither a price nor the mark that it is free.
        InPieces: something on it is open or unknown, and `reason` does not say why it goes like that.
        Unsigned: something on it is dangerous, and `signed_by` names nobody who takes it so.
        AgreementMissing: the charges are beyond what the customer agreed to.
        MoneyHeld: more was paid than it comes to, and that is not paid back.
        UnlawfulMove: the ticket is neither ready nor called off.
        StaleVersion: the ticket or its hand-back settings were changed meanwhile.
    """
    refuse_unpriced(ticket)
    made = move(
        ticket=ticket,
        to_state=Ticket.State.HANDED_BACK,
        by=by,
        seen_version=seen_version,
        reason=reason,
        signed_by=signed_by,
    )
    moment = SettingsRecord.Moment.HAND_BACK
    if not settings.is_empty or seen_settings_version != NO_RECORD_YET:
        record_settings(ticket=ticket, moment=moment, settings=settings, by=by, seen_version=seen_settings_version)
    record_services_done(ticket=ticket, by=by)
    final = freeze_charges(ticket=ticket, by=by)
    if settle is not None:
        settle(final)
    too_much = money_of(ticket) - final.gross
    if too_much > 0:
        raise MoneyHeld(too_much, final.currency, ticket.shop.country)
    return made
