"""Two shops in one database: each sees its own records and nothing of the other's, whatever it asks for."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest
from django.apps import apps
from django.db import models
from django.test import Client
from django.urls import reverse

from tests.a_row_of_each import add_what_it_lacks
from tests.addresses import parts_of
from tests.full_shop import FullShop, full_shop
from tests.workshop.test_who_may_enter import LEAST_SENT, the_table, undone
from workshop.models import User

# How each record that belongs to a shop leads to it. A new model needs its line here, or one below.
WAY_TO_THE_SHOP = {
    "Absence": "mechanic__shop", "Agreement": "ticket__shop", "BenchCapacity": "shop", "Bike": "customer__shop",
    "Calibration": "tool__shop", "BasketLine": "item__shop", "Delivery": "order__shop",
    "DeliveryLine": "delivery__order__shop", "OrderStep": "order__shop", "SentBack": "line__order__shop",
    "Supplier": "shop", "SupplierCredit": "order__shop", "SupplierPart": "item__shop",
    "BoltRecord": "ticket__shop", "ChecklistSignature": "shop",
    "ChangeOfOwner": "unit__shop", "ClosedDay": "shop", "ConditionNote": "ticket__shop",
    "Contact": "ticket__shop", "OpeningHours": "shop", "ReadyText": "shop",
    "CounterReading": "unit__shop", "Customer": "shop",
    "CustomerLink": "ticket__shop", "Decision": "unit__shop", "Document": "ticket__shop", "Erasure": "customer__shop",
    "FinalCharges": "ticket__shop", "FindingAnswer": "ticket__shop", "FreeFinding": "ticket__shop",
    "Fitting": "unit__shop", "ForkMeasurement": "unit__shop", "IntervalPolicy": "shop", "LabourLine": "ticket__shop",
    "MailSettings": "shop", "ManualPage": "shop", "MechanicWeek": "mechanic__shop", "SetUpGuide": "shop",
    "LastVisit": "shop", "StockLevel": "item__shop", "DueUnit": "shop", "UnitChanged": "shop",
    "Message": "shop", "OrderLine": "order__shop", "PartLine": "ticket__shop", "Photo": "ticket__shop",
    "PriceChange": "item__shop", "PromiseHeard": "ticket__shop",
    "PurchaseOrder": "shop", "RemindedService": "message__shop", "ReminderText": "shop", "RetentionPolicy": "shop",
    "Device": "shop", "QuickCode": "user__shop", "WrongCode": "device__shop",
    "RecordLook": "customer__shop",
    "ErasureAhead": "customer__shop",
    "RecoveryCode": "factor__user__shop", "SecondFactor": "user__shop",
    "KnownBrowser": "user__shop", "SecurityEvent": "shop",
    "Ride": "unit__shop", "ServiceDone": "unit__shop", "ServicePrice": "shop", "SettingsRecord": "ticket__shop",
    "Sheet": "shop", "SheetRow": "sheet__shop", "SheetChunk": "sheet__shop", "OldNumber": "shop",
    "ShelfCount": "take__shop", "StateMove": "ticket__shop", "StoodUnder": "ticket__shop",
    "StockItem": "shop", "StockTake": "shop", "StockMovement": "item__shop", "SuspensionUnit": "shop",
    "TaxRules": "shop", "Ticket": "shop", "TicketEvent": "ticket__shop", "TicketRun": "ticket__shop",
    "TicketWords": "shop", "TaxRate": "shop", "PriceUpdate": "shop", "NewPrice": "update__shop",
    "Batch": "item__shop", "BatchLevel": "batch__item__shop", "BatchMovement": "batch__item__shop",
    "OldPart": "ticket__shop", "Variant": "ticket__shop", "VariantLine": "variant__ticket__shop",
    "Discount": "ticket__shop", "DrawerCount": "shop", "HandOver": "ticket__shop",
    "HandOverTakenBack": "hand_over__ticket__shop", "Payment": "shop", "Receipt": "shop", "ReceiptSeries": "shop",
    "ReceiptSettings": "shop", "ReceiptTicket": "ticket__shop",
    "ToolCheck": "tool__shop", "ToolLoan": "tool__shop",
    "TorqueTool": "shop", "UnitRule": "unit__shop", "User": "shop", "Visit": "shop", "WeeklyHours": "unit__shop",
}  # fmt: skip
# What every shop of a database reads and may add to: what is true of a fork whoever owns it, and the checklists.
SHARED = {
    "SuspensionModel", "SpecValue", "Oil", "Part", "PartNumber", "StandIn", "ServiceKit", "KitLine",
    "Complaint", "Cause", "Checklist", "ChecklistDraft", "Step",
}  # fmt: skip
# What an upgrade set right, in whichever shop's rows, and links that open nothing in any shop: it is of the database,
# and no screen shows it, nor which key and which shipped texts its machines share. A session may be nobody's; those of
# a person are listed to them and to the owner of their shop alone (test_open_sessions.py). What ran by a timer is of
# all its machines: a shop's page says that it did, or failed.
OF_THE_DATABASE = {"MendedValue", "OpenSession", "ScheduledRun", "SharedKey", "ShippedEdition", "WrongLink"}
# A run knows nothing of tickets; it is only reached through the TicketRun of a ticket of the shop.
REACHED_BY_A_TICKET = {"Run", "Tick", "Reading", "StepTimer", "MinutesCorrection", "ToldOtherwise"}
RECORDS = [model for model in apps.get_models() if model._meta.app_label in {"workshop", "diagnosis", "specs"}
           and not model._meta.auto_created and model.__name__ != "Shop"]  # fmt: skip
# Each record of a shop, and how it leads there.
WAYS = {model: WAY_TO_THE_SHOP[model.__name__] for model in RECORDS if model.__name__ in WAY_TO_THE_SHOP}
# Taking away what is not there is no error: the second tap of two finds it gone.
# A finding may have been withdrawn since the page was drawn: who answers it is told so, on their own ticket's page.
NOT_THERE_IS_FINE = {
    "office:end_absence",
    "office:throw_away_sheet",
    "bench:answer_finding",
    "bench:reopen_finding",
}


def test_every_record_says_whose_it_is() -> None:
    assert {model.__name__ for model in RECORDS} == {*WAY_TO_THE_SHOP, *SHARED, *REACHED_BY_A_TICKET, *OF_THE_DATABASE}
    for model in RECORDS:
        if way := WAY_TO_THE_SHOP.get(model.__name__):
            # Only a person may be without a shop; who is, enters nowhere.
            assert not any(field.null for field in _fields_on(model, way) if field.model is not User)


def _fields_on(model: type[models.Model], way: str) -> Iterator[Any]:
    for name in way.split("__"):
        field = model._meta.get_field(name)
        yield field
        model = field.related_model  # type: ignore[assignment]


@pytest.fixture
def ours(db: None) -> FullShop:
    return full_shop("Aldermoor")


@pytest.fixture
def theirs(ours: FullShop) -> FullShop:
    return full_shop("Quillback", first_number=700, beside=ours)


@pytest.fixture
def owner(client: Client, ours: FullShop) -> Client:
    client.force_login(ours.owner)
    return client


def crossing_keys() -> list[str]:
    """Records of one shop that point at a record of another."""
    found = []
    for model in RECORDS:
        way = WAY_TO_THE_SHOP.get(model.__name__)
        for field in model._meta.get_fields():
            if way is None or not isinstance(field, models.ForeignKey) or field.name == way.split("__")[0]:
                continue
            other = WAY_TO_THE_SHOP.get(field.related_model.__name__)
            if other is not None:
                there = f"{field.name}__{other}"
                crossed = model._default_manager.exclude(**{f"{field.name}__isnull": True})
                crossed = crossed.exclude(**{f"{there}__isnull": True}).exclude(**{there: models.F(way)})
                found += [f"{row!r}.{field.name}" for row in crossed.order_by("pk")]
    return found


def with_one_part_of_another(name: str, mine: FullShop, other: FullShop) -> Iterator[tuple[str, str]]:
    """Addresses of a route with one of their parts exchanged for the other's, and with all of them."""
    own, foreign = (which.arguments(name, parts_of(name)) for which in (mine, other))
    tellable = [part for part in own if own[part] != foreign[part]]
    for part in tellable:
        yield part, reverse(name, kwargs={**own, part: foreign[part]})
    if len(tellable) > 1:
        yield "all", reverse(name, kwargs=foreign)


OPENED_BY_A_SECRET = {name for name, row in the_table().items() if "link" in row.values()}


def test_no_address_opens_with_a_number_of_the_other_shop(owner: Client, ours: FullShop, theirs: FullShop) -> None:
    opened, tried = [], 0
    for name, row in the_table().items():
        if name in OPENED_BY_A_SECRET | NOT_THERE_IS_FINE:
            continue
        for part, address in with_one_part_of_another(name, ours, theirs):
            for method in [method for method, who in row.items() if who != "-"]:
                tried += 1
                sent = {field: theirs.ids.get(value, value) for field, value in LEAST_SENT.get(name, {}).items()}
                response = undone(owner, method, address, sent)
                if response.status_code != 404:
                    opened.append(f"{method} {name} {part} {address}: {response.status_code}")
    assert not opened, "\n".join(opened)
    assert tried > 120


def test_no_record_opens_under_another_ticket(owner: Client, ours: FullShop) -> None:
    """A run, part line, link and the like of one ticket, asked for under the number of another ticket of the shop."""
    opened = []
    for name, row in the_table().items():
        parts = ours.arguments(name, parts_of(name))
        if "number" not in parts or not {"pk", "run_pk", "revision"} & set(parts):
            continue
        address = reverse(name, kwargs={**parts, "number": ours.ready.number})
        for method in [method for method, who in row.items() if who != "-"]:
            response = undone(owner, method, address)
            if response.status_code != 404:
                opened.append(f"{method} {name} {address}: {response.status_code}")
    assert not opened, "\n".join(opened)


def test_a_customers_link_opens_its_own_ticket_only(client: Client, ours: FullShop, theirs: FullShop) -> None:
    for other in (
        theirs.ids["customer_photo"],
        theirs.ids["photo"],
        ours.ids["photo"],
    ):  # the last is not for customers
        assert client.get(reverse("customer:photo", args=[ours.secret, other, "small"])).status_code == 404
    for name in ("page", "report", "estimate"):
        assert theirs.mark not in shown(client.get(reverse(f"customer:{name}", args=[ours.secret])))


def pages_of(client: Client, shop: FullShop, query: dict[str, Any]) -> dict[str, str]:
    """What every address shows to a member of the shop, without what differs each time."""
    pages = {}
    for name, row in the_table().items():
        if row["get"] in {"-", "link"} or name in {"sign_in"} | LAID_OUT_ANEW:
            continue
        address = reverse(name, kwargs=shop.arguments(name, parts_of(name))) + f"?{urlencode(query)}"
        pages[address] = DIFFERS_EACH_TIME.sub("", shown(undone(client, "get", address)))
    return pages


def shown(response: Any) -> str:
    content: bytes = response.getvalue()
    if content.startswith(b"PK"):
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            content = b"\n".join(packed.read(name) for name in packed.namelist())
    return content.decode("utf-8", "replace")


# A PDF with the time in it; a second factor that is made up anew for each look.
LAID_OUT_ANEW = {"stores:order_pdf", "office:reminders_letter", "second_factor"}
# Among it how large the one database of all shops is, on the page of how the system stands.
DIFFERS_EACH_TIME = re.compile(
    r'\\?"\w{64}\\?"|[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}|data-(now|ends)=\\?"\d+\\?"|\d+:\d\d(:\d\d)?(\.\d+)?'
    r"|[\d.]+\s[kMG]B"
)
FILTERS = {"who": "all", "show": "all", "first": "2020-01-01", "last": "2040-01-01"}


def test_another_shop_changes_nothing_on_any_page(owner: Client, ours: FullShop, settings: Any, tmp_path: Path) -> None:
    """Lists, figures, files to take away: the same to the letter before and after another shop is full of work."""
    settings.DATA_DIR = tmp_path  # the log of errors is the installation's: one that comes meanwhile is not the shop's
    alone = pages_of(owner, ours, FILTERS)
    add_what_it_lacks(full_shop("Quillback", first_number=700, beside=ours), WAYS)
    beside = pages_of(owner, ours, FILTERS)
    assert sum(ours.mark in page for page in alone.values()) > 50
    assert any(ours.taken in page.replace(",", "") for page in alone.values())
    differ = [address for address, page in alone.items() if beside[address] != page]
    assert not differ, "\n".join(
        f"{address}: {first_difference(alone[address], beside[address])}" for address in differ
    )


def first_difference(one: str, other: str) -> str:
    place = next((at for at, (a, b) in enumerate(zip(one, other, strict=False)) if a != b), min(len(one), len(other)))
    return " / ".join(text[max(0, place - 60) : place + 60] for text in (one, other))


def test_no_search_finds_anything_of_another_shop(owner: Client, ours: FullShop, theirs: FullShop) -> None:
    """Asked for the other shop's name, a page says what it says of a name that nobody has."""
    names = ("q", "shelf", "serial", "customer-name", "customer-phone", "unit-serial", "unit-described_as", "text")
    found, nobody = (pages_of(owner, ours, dict.fromkeys(names, word)) for word in (theirs.mark, "Nobodyhere"))
    for (address, page), empty in zip(found.items(), nobody.values(), strict=True):
        assert page.count(theirs.mark) == empty.count("Nobodyhere"), address


def test_no_look_up_while_booking_finds_anything_of_another_shop(
    owner: Client, ours: FullShop, theirs: FullShop
) -> None:
    typed = ("customer-name", "unit-serial", "unit-described_as", "bike-description")
    keys = {"customer": theirs.ids["customer"], "unit": theirs.ids["unit"], "bike": theirs.ids["bike"]}
    for name in ("look_up", "customers", "things", "complaints", "promise", "models", "serials"):
        address = reverse(f"counter:book_in_{name}")
        words = [undone(owner, "post", address, dict.fromkeys(typed, word)) for word in (theirs.mark, "Nobodyhere")]
        found, nobody = (shown(response) for response in words)
        assert found.count(theirs.mark) == nobody.count("Nobodyhere"), name
        assert theirs.mark not in shown(undone(owner, "post", address, keys)), name
    assert theirs.mark not in shown(owner.get(reverse("counter:book_in"), keys))


def test_everything_belongs_together_from_the_start(ours: FullShop, theirs: FullShop) -> None:
    assert crossing_keys() == []
