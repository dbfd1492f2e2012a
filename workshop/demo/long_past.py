"""Years of handed-back tickets for a demo shop: as many rows of each kind as the work would have left."""

from __future__ import annotations

import datetime as dt
import hashlib
import itertools
import json
import random
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from django.core.management.color import no_style
from django.db import connection
from django.db.models import Model
from django.utils import timezone

from diagnosis.models import Cause, Checklist, Reading, Run, Step, Tick
from specs.models import SuspensionModel
from workshop.charges.models import FinalCharges, LabourLine
from workshop.customers.models import Bike, Customer
from workshop.demo.bare_tables import without_indexes
from workshop.demo.bulk import BulkTable, client_id, moment
from workshop.demo.people import BIKES, COLOURS, FAMILY_NAMES, FIRST_NAMES, STREETS
from workshop.intervals.models import Level, ServiceDone
from workshop.issued.models import Document
from workshop.reminders.models import Message, RemindedService
from workshop.staff.models import Shop, User
from workshop.stock.models import StockItem, StockMovement
from workshop.stock.purchase_models import OrderLine, PurchaseOrder
from workshop.suspension.models import Fitting, SuspensionUnit
from workshop.suspension.search_text import without_separators
from workshop.tickets.models import PartLine, SettingsRecord, StateMove, Ticket, TicketEvent, TicketRun
from workshop.web.folding import digits, fold

State, Outcome = Ticket.State, Tick.Outcome
DEMO = "Demo data, invented."
CHUNK = 2_000
GARAGE: list[type[Model]] = [Customer, Bike, SuspensionUnit, Fitting]
LAST_DAYS_AGO = 20
LATELY = dt.timedelta(days=14)
_STEPS_WALKED = 6
_PRIME = 99_991
_REMINDED_EACH = 4  # a reminder for one ticket of so many
_ORDERED_EACH = 20  # an order for one ticket of so many
_WORDS = (
    ("It sits lower than it used to and feels harsh.", "sits-low"),
    ("I pump it up and a week later it is soft.", "loses-air"),
    ("There is an oil ring on the tube after each ride.", "oil-at-seals"),
    ("It feels sticky on small bumps.", "harsh-or-sticky"),
    ("Something knocks when I brake.", "knocks-or-play"),
)
_WHERE = ("since the wet weekend", "mostly on the way down", "worse when it is cold", "since the last race", "lately")
_PATH = ("", State.BOOKED_IN, State.ON_THE_BENCH, State.READY, State.HANDED_BACK)
_MOVES = tuple(
    (
        str(before),
        after.value,
        json.dumps({"from_state": str(before), "to_state": after.value}),
        after in (State.ON_THE_BENCH, State.READY),
    )
    for before, after in itertools.pairwise(_PATH)
    if isinstance(after, State)
)
"""From a state to the next, what the logbook keeps of it, and whether it was the mechanic."""
_TAX_ROWS = '[{"percent": "20.00", "net": "65.00", "tax": "13.00", "gross": "78.00"}]'


@dataclass(frozen=True)
class Sizes:
    """How large the past of the shop is, and over how many days.

    `lately`: how many of the tickets came in the last two weeks of it. Unless said, as many as in any other two.
    """

    tickets: int = 200_000
    customers: int = 60_000
    units: int = 80_000
    days: int = 12 * 365
    lately: int | None = None

    def booked_after(self, number: int) -> dt.timedelta:
        """How long after the first day the ticket of that number comes in."""
        whole = dt.timedelta(days=self.days)
        if self.lately is None:
            return whole * (number / self.tickets)
        before = self.tickets - self.lately
        if number <= before:
            return (whole - LATELY) * (number / before)
        return whole - LATELY + LATELY * ((number - before) / self.lately)


@dataclass(frozen=True)
class _Owned:
    """Keys of a unit, whose it is and the bike it is on, and its kind."""

    unit: int
    customer: int
    bike: int
    kind: str


@dataclass(frozen=True)
class _Walk:
    """What a customer says, plain and folded, the checklist for it, its steps with outcome and cause found."""

    words: Sequence[tuple[str, str]]
    complaint: int
    checklist: int
    ticks: Sequence[tuple[int, str, int | None]]


def make_long_past(
    *, shop: Shop, staff: Mapping[str, User], sizes: Sizes, chance: random.Random, progress: Callable[[int], None]
) -> None:
    """Fill the shop's past. Numbers run from 1 in the order of booking; `progress` hears of each chunk of tickets."""
    past = _Past(shop, staff, sizes, chance)
    with without_indexes([table.model for table in past.tables] + GARAGE):
        owned = _garage(shop, staff["counter"].pk, sizes, chance)
        for first in range(1, sizes.tickets + 1, CHUNK):
            numbers = range(first, min(first + CHUNK, sizes.tickets + 1))
            for number in numbers:
                past.add(number, chance.choice(owned))
            past.write()
            progress(len(numbers))
    shop.last_ticket_number = sizes.tickets
    shop.save(update_fields=["last_ticket_number"])
    _count_on_from_there(past.tables)


def _garage(shop: Shop, clerk: int, sizes: Sizes, chance: random.Random) -> list[_Owned]:
    customers = BulkTable(
        Customer,
        "shop_id",
        "name",
        "phone",
        "email",
        "address",
        "agreed_to_reminders",
        "notes",
        "search_text",
        "created_by_id",
    )
    bikes = BulkTable(Bike, "customer_id", "description", "frame_number", "notes", "search_text")
    units = BulkTable(
        SuspensionUnit, "shop_id", "customer_id", "model_id", "kind", "serial", "travel_m", "notes", "search_text"
    )
    fittings = BulkTable(Fitting, "unit_id", "bike_id", "since")
    on_bikes = []
    for number in range(sizes.customers):
        given, family, second = chance.choice(FIRST_NAMES), chance.choice(FAMILY_NAMES), chance.choice(FAMILY_NAMES)
        name = f"{given} {family}" if number % 3 else f"{given} {family} {second}"
        phone, email = f"01632 {200_000 + _scattered(number)}", f"{given.lower()}.{number}@example.com"
        address = f"{number % 90 + 1} {chance.choice(STREETS)}\nUnder Beacon"
        text = fold(name, email, digits(phone))
        customer = customers.add(shop.pk, name, phone, email, address, number % 5 < 3, DEMO, text, clerk)
        bike, frame = f"{chance.choice(COLOURS)} {chance.choice(BIKES)}", f"DEMO-F{number:06d}"
        on_bikes.append((customer, bikes.add(customer, bike, frame, DEMO, fold(bike, frame))))
    customers.write()
    bikes.write()
    models = [(model, fold(str(model))) for model in SuspensionModel.objects.filter(is_demo=True)]
    since = str(timezone.localdate() - dt.timedelta(days=sizes.days + LAST_DAYS_AGO))
    owned = []
    for number in range(sizes.units):
        model, title = chance.choice(models)
        customer, bike_key = on_bikes[number % len(on_bikes)]
        serial = f"DEMO-{model.name[:3].upper()}-H{_scattered(number):06d}"
        travel_m = model.travels_mm[0] / 1000 if model.travels_mm else None
        text = f"{title} {fold(serial)} {without_separators(serial)}"
        unit = units.add(shop.pk, customer, model.pk, model.kind, serial, travel_m, DEMO, text)
        fittings.add(unit, bike_key, since)
        owned.append(_Owned(unit, customer, bike_key, model.kind))
    units.write()
    fittings.write()
    _count_on_from_there([customers, bikes, units, fittings])
    return owned


def _walks() -> list[_Walk]:
    checklists = Checklist.objects.filter(is_current=True).select_related("complaint").prefetch_related("steps")
    by_complaint = {checklist.complaint.key: checklist for checklist in checklists}
    causes = dict(Cause.objects.values_list("key", "pk"))
    walks = []
    for words, key in _WORDS:
        checklist = by_complaint[key]
        steps = [step for step in checklist.steps.all() if step.kind != Step.Kind.PROOF][:_STEPS_WALKED]
        last = [step for step in steps if step.kind == Step.Kind.CHECK][-1]
        cause = causes[next(iter(checklist.priors))]
        answers = {Step.Kind.CHECK: Outcome.RULED_OUT, Step.Kind.WORK: Outcome.DONE}
        ticks: list[tuple[int, str, int | None]] = [
            (step.pk, Outcome.FOUND.value, cause)
            if step is last
            else (step.pk, answers[Step.Kind(step.kind)].value, None)
            for step in steps
        ]
        said = [f"{words} It has been so {where}." for where in _WHERE]
        walks.append(_Walk([(text, fold(text, DEMO)) for text in said], checklist.complaint_id, checklist.pk, ticks))
    return walks


class _Past:
    """What a ticket leaves behind from booking to hand-back."""

    def __init__(self, shop: Shop, staff: Mapping[str, User], sizes: Sizes, chance: random.Random) -> None:
        self.shop, self.sizes, self.chance, self.walks = shop, sizes, chance, _walks()
        self.clerk, self.mechanics = staff["counter"].pk, (staff["mechanic"].pk, staff["mechanic2"].pk)
        self.items = list(StockItem.objects.filter(shop=shop).order_by("pk").values_list("pk", "part_id", "price"))
        now = timezone.now()
        self.first_day = now - dt.timedelta(days=LAST_DAYS_AGO + sizes.days)
        self.told: set[tuple[int, str]] = set()
        self.lines = {level: json.dumps([_line(f"{level.label} (demo)")]) for level in Level}
        self.tickets = BulkTable(
            Ticket, "shop_id", "number", "customer_id", "unit_id", "bike_id", "complaint_words", "state", "state_since",
            "promised_on", "mechanic_id", "notes", "booked_at", "booked_by_id", "version", "search_text",
        )  # fmt: skip
        self.complaints = BulkTable(Ticket.complaints.through, "ticket_id", "complaint_id")
        self.moves = BulkTable(StateMove, "ticket_id", "from_state", "to_state", "by_id", "at")
        self.events = BulkTable(TicketEvent, "ticket_id", "by_id", "at", "kind", "values")
        self.settings = BulkTable(
            SettingsRecord, "ticket_id", "moment", "pressure_pa", "rest_travel_m", "rebound_clicks", "by_id", "at"
        )
        self.runs = BulkTable(Run, "checklist_id", "facts", "started_by_id", "started_at", "ended_at", "version")
        self.ticket_runs = BulkTable(TicketRun, "ticket_id", "run_id")
        self.ticks = BulkTable(Tick, "run_id", "step_id", "client_id", "outcome", "cause_id", "by_id", "ticked_at")
        self.readings = BulkTable(
            Reading, "run_id", "step_id", "client_id", "key", "magnitude_si", "typed", "by_id", "read_at"
        )
        self.part_lines = BulkTable(
            PartLine, "ticket_id", "part_id", "quantity", "unit_price", "source", "status", "by_id", "at"
        )
        self.movements = BulkTable(
            StockMovement, "item_id", "kind", "quantity", "part_line_id", "order_line_id", "note", "by_id", "at"
        )
        self.labour = BulkTable(LabourLine, "ticket_id", "words", "level", "price", "by_id", "at")
        self.finals = BulkTable(
            FinalCharges, "ticket_id", "currency", "tax_name", "lines", "tax_rows", "prices_include_tax",
            "net", "tax", "gross", "by_id", "at",
        )  # fmt: skip
        self.documents = BulkTable(
            Document, "ticket_id", "kind", "revision", "paper", "data", "data_digest", "pdf", "digest", "issued_by_id",
            "issued_at",
        )  # fmt: skip
        self.services = BulkTable(ServiceDone, "unit_id", "level", "on", "ticket_id", "told_by", "by_id", "at")
        self.messages = BulkTable(
            Message, "shop_id", "customer_id", "unit_id", "channel", "to_address", "subject", "body", "due_on",
            "message_id", "state", "queued_at", "sent_at",
        )  # fmt: skip
        self.reminded = BulkTable(RemindedService, "message_id", "unit_id", "level", "counted_from")
        self.orders = BulkTable(PurchaseOrder, "shop_id", "number", "supplier", "note", "ordered_at", "closed_at")
        self.order_lines = BulkTable(OrderLine, "order_id", "item_id", "ordered")
        # Those that others refer to first.
        self.tables = [
            self.tickets, self.runs, self.part_lines, self.messages, self.orders, self.order_lines,
            self.complaints, self.moves, self.events, self.settings,
            self.ticket_runs, self.ticks, self.readings, self.movements, self.labour, self.finals, self.documents,
            self.services, self.reminded,
        ]  # fmt: skip

    def write(self) -> None:
        for table in self.tables:
            table.write()

    def add(self, number: int, owned: _Owned) -> None:
        walk, mechanic = self.chance.choice(self.walks), self.chance.choice(self.mechanics)
        booked = self.first_day + self.sizes.booked_after(number)
        days = [moment(booked + dt.timedelta(days=day)) for day in range(4)]
        words, folded = self.chance.choice(walk.words)
        ticket = self.tickets.add(
            self.shop.pk, number, owned.customer, owned.unit, owned.bike, words, State.HANDED_BACK.value, days[3],
            str((booked + dt.timedelta(days=4)).date()), mechanic, DEMO, days[0], self.clerk, 4,
            f"{number} {folded}",
        )  # fmt: skip
        self.complaints.add(ticket, walk.complaint)
        for at, (before, after, values, is_bench) in zip(days, _MOVES, strict=True):
            by = mechanic if is_bench else self.clerk
            self.moves.add(ticket, before, after, by, at)
            self.events.add(ticket, by, at, "moved", values)
        self.settings.add(ticket, "arrival", 560_000.0, 0.018, 7, self.clerk, days[0])
        self.settings.add(ticket, "hand_back", 560_000.0, 0.004, 7, self.clerk, days[3])
        self._diagnosis(ticket, owned, walk, mechanic, booked + dt.timedelta(days=1))
        self._parts(ticket, number, mechanic, days[1])
        self._charges(ticket, number, owned, mechanic, days[3])
        if number % _REMINDED_EACH == 0:
            self._reminded(owned, number, days[3])

    def _diagnosis(self, ticket: int, owned: _Owned, walk: _Walk, mechanic: int, began: dt.datetime) -> None:
        facts = '{"kind": "%s", "spring_kind": "air"}' % owned.kind  # noqa: UP031
        ended = moment(began + dt.timedelta(hours=1))
        run = self.runs.add(walk.checklist, facts, mechanic, moment(began), ended, 1 + len(walk.ticks))
        self.ticket_runs.add(ticket, run)
        for place, (step, outcome, cause) in enumerate(walk.ticks):
            at = moment(began + dt.timedelta(minutes=6 * place))
            self.ticks.add(run, step, self._client_id(), outcome, cause, mechanic, at)
        first = walk.ticks[0][0]
        self.readings.add(run, first, self._client_id(), "rest_travel", 0.018, "18 mm", mechanic, moment(began))

    def _parts(self, ticket: int, number: int, mechanic: int, at: str) -> None:
        item, part, price = self.chance.choice(self.items)
        line = self.part_lines.add(ticket, part, "1", str(price), "finding", "used", mechanic, at)
        ordered = None
        if number % _ORDERED_EACH == 0:
            order = self.orders.add(self.shop.pk, number // _ORDERED_EACH, "Demo Supplies", DEMO, at, at)
            ordered = self.order_lines.add(order, item, "1")
        self.movements.add(item, "received", "1", None, ordered, "Demo delivery", mechanic, at)
        self.movements.add(item, "used", "-1", line, None, "", mechanic, at)

    def _charges(self, ticket: int, number: int, owned: _Owned, mechanic: int, at: str) -> None:
        level = _level(owned)
        self.labour.add(ticket, f"{level.label} (demo)", level.value, "65.00", mechanic, at)
        lines = self.lines[level]
        self.finals.add(
            ticket, self.shop.currency, "VAT", lines, _TAX_ROWS, False, "65.00", "13.00", "78.00", mechanic, at
        )
        digest = hashlib.sha256(b"%d" % number).hexdigest()
        data = f'{{"demo": "{DEMO}", "number": {number}}}'
        pdf = f"demo/{number}.pdf"
        self.documents.add(ticket, "customer_report", 1, "A4", data, digest, pdf, digest, self.clerk, at)
        self.services.add(owned.unit, level.value, at[:10], ticket, "Demo history", mechanic, at)

    def _reminded(self, owned: _Owned, number: int, at: str) -> None:
        """A letter that went out when the service done on that day was due again."""
        if (owned.unit, at[:10]) in self.told:
            return
        self.told.add((owned.unit, at[:10]))
        message = self.messages.add(
            self.shop.pk, owned.customer, owned.unit, "letter", "Under Beacon", "Your service is due (demo)", DEMO,
            at[:10], f"<demo-{number}@shop.example>", "sent", at, at,
        )  # fmt: skip
        self.reminded.add(message, owned.unit, _level(owned).value, at[:10])

    def _client_id(self) -> str:
        return client_id(self.chance.getrandbits(128))


def _scattered(number: int) -> int:
    """Another number for each: who came early has not therefore a low phone number, or a fork of a low serial."""
    hundred_thousands, rest = divmod(number, _PRIME)
    return hundred_thousands * _PRIME + rest * 48_271 % _PRIME


def _line(title: str) -> dict[str, str]:
    line = {"kind": "labour", "number": "", "title": title, "quantity": "1", "unit": "", "price": "65.00"}
    return {**line, "tax_percent": "20.00", "amount": "65.00"}


def _level(owned: _Owned) -> Level:
    return Level.LOWERS if owned.kind == "fork" else Level.SPRING


def _count_on_from_there(tables: Sequence[BulkTable]) -> None:
    """Let the database's own keys follow those given here."""
    with connection.cursor() as cursor:
        for statement in connection.ops.sequence_reset_sql(no_style(), [table.model for table in tables]):
            cursor.execute(statement)
