"""Records for tests. Names are invented, numbered where they must differ, and the same in every run."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import TYPE_CHECKING, Any, TypeVar

import factory
from django.db.models import Model
from django.utils import timezone
from factory.django import DjangoModelFactory, Password

from diagnosis import models as diagnosis
from specs import models as specs
from specs.contradictions import COILS
from workshop import models as shop_records
from workshop.web.folding import digits, fold

FIRST_OF_A_SEQUENCE = 5_000
PASSWORD = "a-long-enough-passphrase"  # noqa: S105  opens nothing
_FIRST = ("Odile", "Bram", "Jana", "Tomas", "Ines", "Kofi", "Maren", "Yusuf", "Petra", "Ilan")
_LAST = ("Novák", "Ashdown", "Ferreira", "Lindqvist", "Okafor", "Marchetti", "Þorsteins", "Quennell", "Vasile")


def invented_name(n: int) -> str:
    return f"{_FIRST[n % len(_FIRST)]} {_LAST[n % len(_LAST)]}"


M = TypeVar("M", bound=Model)


class Recipe(DjangoModelFactory[M]):
    """What the factories here have in common: called, each makes and stores a record of its model."""

    class Meta:
        abstract = True

    if TYPE_CHECKING:

        def __new__(cls, **fields: Any) -> M: ...  # type: ignore[misc]  # as the library's metaclass does

    @classmethod
    def _setup_next_sequence(cls) -> int:
        """Four digits from the first one on: no name has the 41 in it that a test looks for on a page."""
        return FIRST_OF_A_SEQUENCE


class ShopFactory(Recipe[shop_records.Shop]):
    class Meta:
        model = shop_records.Shop

    name = factory.Sequence(lambda n: f"Mill Yard Suspension {n}")
    phone = "0555 010 100"
    email = "desk@mill-yard.example"
    public_address = "https://mill-yard.example"
    address = "3 Mill Yard"


class UserFactory(Recipe[shop_records.User]):
    """A counter clerk; with `mechanic=True` or `owner=True` those, with `roles="counter mechanic"` both.

    `with_password=True` can sign in by form.
    """

    class Meta:
        model = shop_records.User

    shop = factory.SubFactory(ShopFactory)
    username = factory.Sequence(lambda n: f"staff{n}")
    first_name = factory.Sequence(lambda n: _FIRST[n % len(_FIRST)])
    last_name = factory.Sequence(lambda n: _LAST[n % len(_LAST)])
    roles = factory.SelfAttribute("role")
    password = "!"  # noqa: S105  opens nothing

    class Params:
        role = shop_records.User.Role.COUNTER  # one of them
        mechanic = factory.Trait(role=shop_records.User.Role.MECHANIC)
        owner = factory.Trait(role=shop_records.User.Role.OWNER)
        with_password = factory.Trait(password=Password(PASSWORD))


class CustomerFactory(Recipe[shop_records.Customer]):
    class Meta:
        model = shop_records.Customer

    shop = factory.SubFactory(ShopFactory)
    name = factory.Sequence(invented_name)
    phone = factory.Sequence(lambda n: f"0555 {n // 1000 % 1000:03} {n % 1000:03}")
    email = factory.Sequence(lambda n: f"rider{n}@example.org")
    search_text = factory.LazyAttribute(lambda o: fold(o.name, o.email, digits(o.phone)))


class BikeFactory(Recipe[shop_records.Bike]):
    class Meta:
        model = shop_records.Bike

    customer = factory.SubFactory(CustomerFactory)
    description = factory.Sequence(lambda n: f"Green hardtail {n}")
    frame_number = factory.Sequence(lambda n: f"FR{n:05}")
    search_text = factory.LazyAttribute(lambda o: fold(o.description, o.frame_number))


class SuspensionModelFactory(Recipe[specs.SuspensionModel]):
    """An air fork with its facts known; `shock=True` for a rear shock."""

    class Meta:
        model = specs.SuspensionModel

    maker = "Kestrigan"
    name = factory.Sequence(lambda n: f"Plume M{n}")
    year_from = 2021
    kind = "fork"
    spring_kind = "air"
    air_side = "left"
    spring_retention = "internal_circlip"
    foot_fastener = "bolt"
    damper_kind = "sealed_cartridge"
    crush_washers = True
    bleed_buttons = False
    foam_rings = True
    self_equalising = factory.LazyAttribute(lambda made: made.spring_kind not in COILS)
    travels_mm = [120, 130, 140]
    is_demo = True

    class Params:
        shock = factory.Trait(kind="shock", air_side="", foot_fastener="", crush_washers=None, foam_rings=None)


class SpecValueFactory(Recipe[specs.SpecValue]):
    """An unchecked maximum pressure of 120 psi; with `checked_by` and `checked_at` a checked one."""

    class Meta:
        model = specs.SpecValue

    model = factory.SubFactory(SuspensionModelFactory)
    quantity = "max_pressure"
    magnitude_si = 827370.875
    typed = "120 psi"
    source_document = "Invented manual for tests"
    source_revision = "A"
    source_page = "12"


class OilFactory(Recipe[specs.Oil]):
    class Meta:
        model = specs.Oil

    name = factory.Sequence(lambda n: f"Test oil {n}")
    weight_label = "10 wt"
    kv40_mm2_s = 30.0
    kv100_mm2_s = 6.0


class PartFactory(Recipe[specs.Part]):
    class Meta:
        model = specs.Part

    number = factory.Sequence(lambda n: f"T-{n:04}")
    description = factory.Sequence(lambda n: f"Wiper set {n}")
    role = specs.Part.Role.WIPER


class ServiceKitFactory(Recipe[specs.ServiceKit]):
    class Meta:
        model = specs.ServiceKit

    model = factory.SubFactory(SuspensionModelFactory)
    level = specs.ServiceKit.Level.LOWERS
    source_document = "Invented manual for tests"


class KitLineFactory(Recipe[specs.KitLine]):
    class Meta:
        model = specs.KitLine

    kit = factory.SubFactory(ServiceKitFactory)
    part = factory.SubFactory(PartFactory)
    quantity = Decimal(2)


class SuspensionUnitFactory(Recipe[shop_records.SuspensionUnit]):
    """A fork of a known model, belonging to a customer of the same shop."""

    class Meta:
        model = shop_records.SuspensionUnit

    shop = factory.SubFactory(ShopFactory)
    customer = factory.SubFactory(CustomerFactory, shop=factory.SelfAttribute("..shop"))
    model = factory.SubFactory(SuspensionModelFactory)
    kind = factory.LazyAttribute(lambda o: o.model.kind if o.model else "fork")
    serial = factory.Sequence(lambda n: f"SN{n:06}")
    travel_m = 0.130
    search_text = factory.LazyAttribute(lambda o: fold(str(o.model or ""), o.serial))


class FittingFactory(Recipe[shop_records.Fitting]):
    class Meta:
        model = shop_records.Fitting

    unit = factory.SubFactory(SuspensionUnitFactory)
    bike = factory.SubFactory(BikeFactory, customer=factory.SelfAttribute("..unit.customer"))
    since = dt.date(2025, 1, 1)


class ComplaintFactory(Recipe[diagnosis.Complaint]):
    class Meta:
        model = diagnosis.Complaint
        django_get_or_create = ("key",)

    key = factory.Sequence(lambda n: f"complaint-{n}")
    title = factory.Sequence(lambda n: f"Sits low {n}")
    suits = ["fork"]
    symptoms = ["sucked down"]
    position = factory.Sequence(lambda n: n % 30_000)


class CauseFactory(Recipe[diagnosis.Cause]):
    class Meta:
        model = diagnosis.Cause
        django_get_or_create = ("key",)

    key = factory.Sequence(lambda n: f"cause-{n}")
    title = factory.Sequence(lambda n: f"Cause {n}")
    for_customer = "Something inside had worn."


class ChecklistFactory(Recipe[diagnosis.Checklist]):
    class Meta:
        model = diagnosis.Checklist

    complaint = factory.SubFactory(ComplaintFactory)
    key = factory.Sequence(lambda n: f"checklist-{n}")
    title = factory.Sequence(lambda n: f"Checklist {n}")
    suits = ["fork"]
    priors = {"cause-a": 2, "cause-b": 1}
    chances_source = "common practice, no published source"


class StepFactory(Recipe[diagnosis.Step]):
    """A check with two answers and one reading."""

    class Meta:
        model = diagnosis.Step

    checklist = factory.SubFactory(ChecklistFactory)
    key = factory.Sequence(lambda n: f"step-{n}")
    position = factory.Sequence(lambda n: n % 30_000)
    kind = diagnosis.Step.Kind.CHECK
    title = factory.Sequence(lambda n: f"Look at the seals {n}")
    do = ["Wipe the stanchions.", "Look for scratches and oil."]
    look_for = ["oil above the wipers"]
    counts_as_found = "Oil has run past the wiper."
    minutes = 5.0
    ends_search = {"cause-a": 0.5}
    answers = {
        "found": {"cause": "cause-a", "next": None, "says": "Oil past the wiper means worn seals."},
        "ruled_out": {"cause": None, "next": None, "says": "Dry stanchions leave the spring."},
    }


class RunFactory(Recipe[diagnosis.Run]):
    class Meta:
        model = diagnosis.Run

    checklist = factory.SubFactory(ChecklistFactory)
    facts = {"kind": "fork", "spring_kind": "air"}


class TickFactory(Recipe[diagnosis.Tick]):
    class Meta:
        model = diagnosis.Tick

    run = factory.SubFactory(RunFactory)
    step = factory.SubFactory(StepFactory, checklist=factory.SelfAttribute("..run.checklist"))
    outcome = diagnosis.Tick.Outcome.RULED_OUT
    ticked_at = factory.LazyFunction(timezone.now)


class ReadingFactory(Recipe[diagnosis.Reading]):
    class Meta:
        model = diagnosis.Reading

    run = factory.SubFactory(RunFactory)
    step = factory.SubFactory(StepFactory, checklist=factory.SelfAttribute("..run.checklist"))
    key = "rest-travel"
    magnitude_si = 0.004
    typed = "4 mm"
    read_at = factory.LazyFunction(timezone.now)


class TicketFactory(Recipe[shop_records.Ticket]):
    """Booked in today for a fork of the same shop and customer, promised in three days.

    `state` may be any; `waiting=True` waits for the customer's answer.
    """

    class Meta:
        model = shop_records.Ticket

    shop = factory.SubFactory(ShopFactory)
    number = factory.Sequence(lambda n: n + 1)
    customer = factory.SubFactory(CustomerFactory, shop=factory.SelfAttribute("..shop"))
    unit = factory.SubFactory(
        SuspensionUnitFactory, shop=factory.SelfAttribute("..shop"), customer=factory.SelfAttribute("..customer")
    )
    complaint_words = "Sits low and will not come back up."
    state_since = factory.LazyFunction(timezone.now)
    booked_at = factory.LazyFunction(timezone.now)
    promised_on = factory.LazyFunction(lambda: timezone.localdate() + dt.timedelta(days=3))
    search_text = factory.LazyAttribute(lambda o: fold(str(o.number), o.complaint_words))

    class Params:
        waiting = factory.Trait(
            state=shop_records.Ticket.State.WAITING, waiting_for=shop_records.Ticket.WaitingFor.CUSTOMER
        )

    @classmethod
    def _after_postgeneration(cls, instance: Any, create: bool, results: Any = None) -> None:
        """Keep the shop's running number ahead of the tickets made here."""
        if create and instance.shop.last_ticket_number < instance.number:
            instance.shop.last_ticket_number = instance.number
            instance.shop.save(update_fields=["last_ticket_number"])


class TicketRunFactory(Recipe[shop_records.TicketRun]):
    class Meta:
        model = shop_records.TicketRun

    ticket = factory.SubFactory(TicketFactory)
    run = factory.SubFactory(RunFactory)


class SettingsRecordFactory(Recipe[shop_records.SettingsRecord]):
    """As it arrived: 82 psi, 7 clicks of rebound from fully closed."""

    class Meta:
        model = shop_records.SettingsRecord

    ticket = factory.SubFactory(TicketFactory)
    moment = shop_records.SettingsRecord.Moment.ARRIVAL
    pressure_pa = 565370.0
    rebound_clicks = 7
    at = factory.LazyFunction(timezone.now)


class ConditionNoteFactory(Recipe[shop_records.ConditionNote]):
    class Meta:
        model = shop_records.ConditionNote

    ticket = factory.SubFactory(TicketFactory)
    place = "Left stanchion"
    text = "Light scratch 40 mm above the wiper"
    at = factory.LazyFunction(timezone.now)


class PhotoFactory(Recipe[shop_records.Photo]):
    """A photo's row. The files themselves are not made."""

    class Meta:
        model = shop_records.Photo

    ticket = factory.SubFactory(TicketFactory)
    digest = factory.Sequence(lambda n: f"{n:064x}")
    file = factory.LazyAttribute(lambda o: f"photos/{o.digest}.jpg")
    thumbnail = factory.LazyAttribute(lambda o: f"photos/{o.digest}-small.jpg")
    width = 1600
    height = 1200
    at = factory.LazyFunction(timezone.now)


class PartLineFactory(Recipe[shop_records.PartLine]):
    class Meta:
        model = shop_records.PartLine

    ticket = factory.SubFactory(TicketFactory)
    part = factory.SubFactory(PartFactory)
    quantity = Decimal(1)
    unit_price = Decimal("24.50")
    source = shop_records.PartLine.Source.BY_HAND
    at = factory.LazyFunction(timezone.now)


class StockItemFactory(Recipe[shop_records.StockItem]):
    class Meta:
        model = shop_records.StockItem

    shop = factory.SubFactory(ShopFactory)
    part = factory.SubFactory(PartFactory)
    price = Decimal("24.50")
    cost = Decimal("14.00")
    shelf = "A3"
    reorder_level = Decimal(2)


class StockMovementFactory(Recipe[shop_records.StockMovement]):
    class Meta:
        model = shop_records.StockMovement

    item = factory.SubFactory(StockItemFactory)
    kind = shop_records.StockMovement.Kind.RECEIVED
    quantity = Decimal(10)
    at = factory.LazyFunction(timezone.now)


class DocumentFactory(Recipe[shop_records.Document]):
    """A document's row. The PDF itself is not made."""

    class Meta:
        model = shop_records.Document

    ticket = factory.SubFactory(TicketFactory)
    kind = shop_records.Document.Kind.LABEL
    revision = 1
    paper = "A4"
    data = {"ticket": 1}
    data_digest = "0" * 64
    pdf = "documents/none.pdf"
    digest = "0" * 64
    issued_at = factory.LazyFunction(timezone.now)


class TorqueToolFactory(Recipe[shop_records.TorqueTool]):
    """A small setting wrench of 2 to 14 N·m, calibrated for a year; `overdue=True` for one whose year is over."""

    class Meta:
        model = shop_records.TorqueTool

    shop = factory.SubFactory(ShopFactory)
    number = factory.Sequence(lambda n: f"TW-{n:03}")
    name = "Small wrench"
    low_nm = 2.0
    high_nm = 14.0
    calibrated_on = factory.LazyFunction(lambda: timezone.localdate() - dt.timedelta(days=30))
    calibrated_until = factory.LazyFunction(lambda: timezone.localdate() + dt.timedelta(days=335))

    class Params:
        overdue = factory.Trait(calibrated_on=dt.date(2024, 5, 3), calibrated_until=dt.date(2025, 5, 3))


class BoltRecordFactory(Recipe[shop_records.BoltRecord]):
    """The axle of a ticket, tightened by a mechanic of its shop."""

    class Meta:
        model = shop_records.BoltRecord

    ticket = factory.SubFactory(TicketFactory)
    bolt = "axle"
    torque_nm = 12.0
    typed = "12 N·m"
    by = factory.SubFactory(UserFactory, shop=factory.SelfAttribute("..ticket.shop"), mechanic=True)
    at = factory.LazyFunction(timezone.now)
