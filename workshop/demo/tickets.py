"""Tickets of the demo shop: two years behind it, and work in every state today."""

from __future__ import annotations

import contextlib
import datetime as dt
import random
from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal

from django.utils import timezone

from diagnosis.models import Complaint
from specs.models import ServiceKit
from specs.units import to_si
from workshop.charges.labour import charge_service
from workshop.demo.answering import answer_findings, make_findings, record_bolts
from workshop.demo.backdating import shift_into_past
from workshop.demo.garage import Garage, Owned
from workshop.demo.history import make_history
from workshop.demo.kind_tickets import make_kinds
from workshop.demo.runs import walk
from workshop.demo.sucked_down import make_sucked_down
from workshop.staff.models import Shop, User
from workshop.stock.moving import NotEnoughInStock
from workshop.suspension.models import SuspensionUnit
from workshop.tickets.booking import AgreedAtBooking, MarkSeen, book_in
from workshop.tickets.models import PartLine, Ticket
from workshop.tickets.settings_record import Settings, settings_of
from workshop.work.adding_parts import add_from_kit
from workshop.work.hand_back import hand_back
from workshop.work.moves import move
from workshop.work.part_lines import PartLineRefused, drop_part_line, use_part_line

State = Ticket.State
PAST_TICKETS = 8
PAST_DAYS_AGO = (12, 32)  # before that, workshop.demo.history
_LABOUR = {"fork": ServiceKit.Level.LOWERS, "shock": ServiceKit.Level.SPRING}
# Days from today to the promised day, in turn: some late, some due today, most to come.
PROMISED_IN = (2, -2, 0, 5, 1, 3, 7, 4)


@dataclass(frozen=True)
class Story:
    """What a customer says, which complaint that is, and the cause that the demo lets the mechanic find."""

    words: str
    complaint: str
    cause: str | None


ROUTINE = Story("It is due for its service, nothing wrong with it.", "routine-lowers", None)
KNOCKS = Story("Something knocks when I brake.", "knocks-or-play", None)
STORIES: tuple[Story, ...] = (
    ROUTINE,
    ROUTINE,
    Story("It sits lower than it used to and feels harsh.", "sits-low", "port-blocked"),
    Story("I pump it up and a week later it is soft.", "loses-air", None),
    Story("There is an oil ring on the tube after each ride.", "oil-at-seals", None),
    Story("It feels sticky on small bumps.", "harsh-or-sticky", None),
    KNOCKS,
)

COIL_SHOCK_STORY = Story("The back sits deep and feels dead.", "shock-sits-low", None)
SHOCK_STORIES: tuple[Story, ...] = (
    Story("It is due for its service, nothing wrong with it.", "routine-air-can", None),
    Story("The shock is soft again after a week.", "shock-loses-air", None),
    COIL_SHOCK_STORY,
)


def make_tickets(*, shop: Shop, staff: Mapping[str, User], garage: Garage, chance: random.Random) -> None:
    """Past tickets first, so that numbers rise with time; then today's, one unit each."""
    units = list(garage.owned)
    chance.shuffle(units)
    complaints = {complaint.key: complaint for complaint in Complaint.objects.all()}
    worn = make_history(shop=shop, staff=staff, owned=units, complaints=complaints, chance=chance)
    others = [one for one in units if one.unit.pk not in worn]
    days_ago = sorted((chance.randint(*PAST_DAYS_AGO) for _ in range(PAST_TICKETS)), reverse=True)
    for days, owned in zip(days_ago, chance.sample(others, PAST_TICKETS), strict=True):
        _past(shop, staff, owned, complaints, days, chance)
    waiting = iter(units)
    for state, count in (
        (State.CALLED_OFF, 2), (State.READY, 5), (State.WAITING, 5), (State.ON_THE_BENCH, 3), (State.BOOKED_IN, 8),
    ):  # fmt: skip
        for number in range(count):
            _present(shop, staff, next(waiting), complaints, state, number, chance)
    make_findings(shop=shop, staff=staff)
    make_kinds(shop=shop, staff=staff, owned=garage.of_each_kind, complaints=complaints)
    make_sucked_down(shop=shop, staff=staff, owned=garage.sucked_down, complaint=complaints["sits-low"])


def _book(
    shop: Shop,
    staff: Mapping[str, User],
    owned: Owned,
    complaints: Mapping[str, Complaint],
    story: Story,
    promised_on: dt.date,
    chance: random.Random,
) -> Ticket:
    complaint = complaints.get(story.complaint)
    return book_in(
        shop=shop,
        by=staff["counter"],
        customer=owned.customer,
        unit=owned.unit,
        bike=owned.bike,
        agreement=AgreedAtBooking(
            complaint_words=story.words,
            complaints=[complaint] if complaint is not None and owned.unit.kind in complaint.suits else [],
            promised_on=promised_on,
            price_ceiling=chance.choice((None, Decimal(180), Decimal(250), Decimal(320))),
            arrival=_settings(owned.unit, chance, rests_deep=story.complaint == "sits-low"),
            marks=[MarkSeen("Left stanchion", "Fine scratch under the crown, cannot be felt")]
            if chance.random() < 0.3
            else [],
        ),
    )


def _settings(unit: SuspensionUnit, chance: random.Random, *, rests_deep: bool = False) -> Settings:
    drawn = Settings(
        pressure_pa=to_si(float(chance.randint(62, 98)), "pressure", "psi"),
        sag_m=chance.randint(22, 38) / 1000,
        rest_travel_m=(chance.randint(18, 40) if rests_deep else chance.randint(2, 5)) / 1000,
        rebound_clicks=chance.randint(4, 11),
        compression_clicks=chance.randint(3, 10),
        spacers=chance.randint(0, 2),
    )
    return _fitting(drawn, unit)


def _as_handed_back(unit: SuspensionUnit, arrival: Settings, chance: random.Random) -> Settings:
    """Clicks and spacers as they came; pressure, sag and rest as the work left them."""
    pressure_pa = to_si(float(chance.randint(70, 90)), "pressure", "psi")
    left = replace(arrival, pressure_pa=pressure_pa, sag_m=chance.randint(26, 32) / 1000, rest_travel_m=0.004)
    return _fitting(left, unit)


def _fitting(drawn: Settings, unit: SuspensionUnit) -> Settings:
    """What was drawn for an air fork, as this unit has it: a coil has no pressure, and a shock has half the stroke."""
    fitting = drawn
    if unit.kind == "shock":
        pressure_pa = None if drawn.pressure_pa is None else 2 * drawn.pressure_pa
        fitting = replace(fitting, pressure_pa=pressure_pa, sag_m=_half(drawn.sag_m))
    if unit.facts().get("spring_kind") == "coil":
        fitting = replace(fitting, pressure_pa=None, spacers=None)
    return fitting


def _half(length_m: float | None) -> float | None:
    return None if length_m is None else round(length_m / 2, 3)


def _story(unit: SuspensionUnit, chance: random.Random) -> Story:
    """One that can be of this unit: a coil loses no air."""
    story = chance.choice(STORIES if unit.kind == "fork" else SHOCK_STORIES)
    if unit.facts().get("spring_kind") != "coil":
        return story
    if unit.kind == "shock":
        return COIL_SHOCK_STORY
    return replace(story, words=KNOCKS.words, complaint=KNOCKS.complaint) if story.complaint == "loses-air" else story


def _past(
    shop: Shop,
    staff: Mapping[str, User],
    owned: Owned,
    complaints: Mapping[str, Complaint],
    days_ago: int,
    chance: random.Random,
) -> None:
    story = _story(owned.unit, chance)
    mechanic = staff[chance.choice(("mechanic", "mechanic2"))]
    days_taken = chance.randint(1, 8)
    ticket = _book(shop, staff, owned, complaints, story, timezone.localdate() + dt.timedelta(days=days_taken), chance)
    _move(ticket, State.ON_THE_BENCH, mechanic)
    walk(ticket=ticket, by=mechanic, cause=story.cause, chance=chance)
    _use_parts(ticket, mechanic)
    charge_service(ticket=ticket, level=_LABOUR[ticket.unit.kind], by=mechanic)
    _make_ready(ticket, mechanic)
    settings = _as_handed_back(ticket.unit, settings_of(ticket.settings_records.get()), chance)
    hand_back(ticket=ticket, by=staff["counter"], seen_version=ticket.version, settings=settings)
    shift_into_past(ticket, days=days_ago, spread_over_days=days_taken)


def _present(
    shop: Shop,
    staff: Mapping[str, User],
    owned: Owned,
    complaints: Mapping[str, Complaint],
    state: str,
    number: int,
    chance: random.Random,
) -> None:
    story = _story(owned.unit, chance)
    promised_in = PROMISED_IN[number % len(PROMISED_IN)]
    days_in = chance.randint(max(0, -promised_in), 6)
    promised_on = timezone.localdate() + dt.timedelta(days=promised_in + days_in)
    ticket = _book(shop, staff, owned, complaints, story, promised_on, chance)
    mechanic = staff["mechanic" if number % 2 == 0 else "mechanic2"]
    if state in (State.ON_THE_BENCH, State.READY, State.WAITING):
        _move(ticket, State.ON_THE_BENCH, mechanic)
        done = 1.0 if state == State.READY else 0.4
        walk(ticket=ticket, by=mechanic, cause=story.cause, chance=chance, share=done)
        _put_kit_on(ticket, mechanic)
        charge_service(ticket=ticket, level=_LABOUR[ticket.unit.kind], by=mechanic)
    if state == State.READY:
        _use_parts(ticket, mechanic)
        _make_ready(ticket, mechanic)
    elif state == State.WAITING:
        waiting_for = Ticket.WaitingFor.PARTS if number % 2 == 0 else Ticket.WaitingFor.CUSTOMER
        _move(ticket, State.WAITING, mechanic, waiting_for=waiting_for)
    elif state == State.CALLED_OFF:
        _move(ticket, State.CALLED_OFF, staff["counter"], reason="The customer changed their mind (demo).")
    shift_into_past(ticket, days=days_in, spread_over_days=min(days_in, 2))


def _put_kit_on(ticket: Ticket, by: User) -> None:
    """The parts of a lowers service, for a model that has such a kit."""
    with contextlib.suppress(PartLineRefused):
        add_from_kit(ticket=ticket, level=ServiceKit.Level.LOWERS, by=by)


def _use_parts(ticket: Ticket, by: User) -> None:
    """What was fitted is out of the stores; what they do not have was not fitted."""
    for line in ticket.part_lines.filter(status=PartLine.Status.NEEDED).select_related("part", "ticket"):
        try:
            use_part_line(line=line, by=by, taking_from=None)
        except NotEnoughInStock:
            drop_part_line(line=PartLine.objects.select_related("part", "ticket").get(pk=line.pk), by=by)


def _make_ready(ticket: Ticket, by: User) -> None:
    """With every bolt on record and an answer to all that was found."""
    record_bolts(ticket, by)
    answer_findings(ticket, by)
    _move(ticket, State.READY, by)


def _move(ticket: Ticket, to_state: str, by: User, *, waiting_for: str = "", reason: str = "") -> None:
    move(ticket=ticket, to_state=to_state, by=by, seen_version=ticket.version, waiting_for=waiting_for, reason=reason)
