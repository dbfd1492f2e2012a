"""A ticket of each kind of unit: booked in, and on the bench where a checklist covers it."""

from __future__ import annotations

import datetime as dt
import random
from collections.abc import Mapping, Sequence
from decimal import Decimal

from django.utils import timezone

from diagnosis.models import Complaint
from diagnosis.runs import NotCovered
from specs.units import to_si
from workshop.demo.garage import Owned
from workshop.demo.kinds import KINDS, DemoKind
from workshop.demo.runs import walk
from workshop.staff.models import Shop, User
from workshop.suspension.models import SuspensionUnit
from workshop.tickets.booking import AgreedAtBooking, book_in
from workshop.tickets.models import Ticket
from workshop.tickets.settings_record import Settings
from workshop.work.moves import move

SHARE_DONE = 0.15
PROMISED_IN_DAYS = 6


def make_kinds(
    *, shop: Shop, staff: Mapping[str, User], owned: Sequence[Owned], complaints: Mapping[str, Complaint]
) -> None:
    """Book each in with what it came with, and begin on those that are on the bench."""
    chance = random.Random(len(KINDS))  # noqa: S311  the same each time, and no draw of the other tickets'
    for number, one in enumerate(owned):
        ticket = _book(shop, staff["counter"], one, complaints)
        mechanic = staff["mechanic" if number % 2 else "mechanic2"]
        move(ticket=ticket, to_state=Ticket.State.ON_THE_BENCH, by=mechanic, seen_version=ticket.version)
        try:
            walk(ticket=ticket, by=mechanic, cause=None, chance=chance, share=SHARE_DONE)
        except NotCovered:
            continue  # the bench says so


def _book(shop: Shop, by: User, one: Owned, complaints: Mapping[str, Complaint]) -> Ticket:
    kind = KINDS[_model_name(one.unit)]
    return book_in(
        shop=shop,
        by=by,
        customer=one.customer,
        unit=one.unit,
        bike=one.bike,
        agreement=AgreedAtBooking(
            complaint_words=kind.words,
            complaints=[complaints[kind.complaint]],
            promised_on=timezone.localdate() + dt.timedelta(days=PROMISED_IN_DAYS),
            price_ceiling=Decimal(250),
            arrival=settings_of_kind(kind),
        ),
    )


def settings_of_kind(kind: DemoKind) -> Settings:
    """What it came in with, in SI."""
    return Settings(
        pressure_pa=None if kind.psi is None else to_si(kind.psi, "pressure", "psi"),
        sag_m=kind.sag_mm / 1000,
        rest_travel_m=kind.rest_mm / 1000,
        rebound_clicks=kind.rebound,
        compression_clicks=kind.compression,
        spacers=kind.spacers,
        remarks=kind.remarks,
    )


def _model_name(unit: SuspensionUnit) -> str:
    return unit.model.name if unit.model is not None else ""
