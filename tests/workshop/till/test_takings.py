"""The day's takings: by kind, against the drawer, closed with a reason where they differ; and the month as CSV."""

from __future__ import annotations

import csv
import datetime as dt
import io
import uuid
from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.utils import timezone

from tests.factories import CustomerFactory, ShopFactory, SuspensionUnitFactory
from tests.handed_over import hand_it_over, part, ready_ticket
from workshop.charges.models import TaxRules
from workshop.models import DrawerCount, Payment, Receipt, Shop
from workshop.till.books import rates_csv, receipts_csv
from workshop.till.taking import pay_back
from workshop.till.takings import CountedMeanwhile, count_drawer, takings_of
from workshop.work.taking_back import open_again

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    """80.00 and 20.00 in cash, 30.00 by card; 5.00 of the cash was paid back."""
    shop = ShopFactory()
    first = ready_ticket("80.00", shop=shop)
    hand_it_over(first, part("cash", "80"))
    hand_it_over(ready_ticket("50.00", shop=shop), part("card", "30"), part("cash", "20"))
    pay_back(ticket=first, kind="cash", amount=Decimal(5), reason="Scratched", client_id=uuid.uuid4(), by=None)
    return shop


def today() -> dt.date:
    return timezone.localdate()


def count(shop: Shop, **changed: Any) -> DrawerCount:
    return count_drawer(
        **{
            "shop": shop, "day": today(), "opening": Decimal(100), "counted": Decimal(195), "taken_out": Decimal(95),
            "reason": "", "seen_cash": Decimal(95), "seen_count": 0, "by": None, **changed,
        }
    )  # fmt: skip


def test_by_kind(shop: Shop) -> None:
    day = takings_of(shop, today())
    assert [(row.label, row.came, row.back) for row in day.kinds] == [
        ("Cash", Decimal(100), Decimal(-5)),
        ("Card", Decimal(30), Decimal(0)),
        ("Bank transfer", Decimal(0), Decimal(0)),
    ]
    assert (day.money, day.cash, day.receipted) == (Decimal(125), Decimal(95), Decimal(130))
    assert takings_of(shop, today() - dt.timedelta(days=1)).payments == []
    assert takings_of(ShopFactory(), today()).payments == []


def test_a_drawer_that_agrees_is_closed_and_leaves_the_next_opening(shop: Shop) -> None:
    assert count(shop).difference == 0
    day = takings_of(shop, today())
    assert day.counted is not None
    tomorrow = takings_of(shop, today() + dt.timedelta(days=1))
    assert (day.since_count, tomorrow.opening) == (Decimal(0), Decimal(100))


@pytest.mark.parametrize(("counted", "words"), [("194.99", "0.01 EUR too little"), ("200", "5.00 EUR too much")])
def test_a_difference_needs_a_reason(shop: Shop, counted: str, words: str) -> None:
    with pytest.raises(ValidationError, match=words):
        count(shop, counted=Decimal(counted))
    assert count(shop, counted=Decimal(counted), reason="Gave wrong change").difference == Decimal(counted) - 195


def test_the_database_wants_the_reason_too(shop: Shop) -> None:
    count(shop)
    with pytest.raises(IntegrityError), transaction.atomic():
        DrawerCount.objects.update(counted=Decimal(190))


def test_a_closed_day_is_kept_and_counted_again_beside_it(shop: Shop) -> None:
    first = count(shop)
    with pytest.raises(CountedMeanwhile):
        count(shop)
    hand_it_over(ready_ticket("10.00", shop=shop), part("cash", "10"))
    assert takings_of(shop, today()).since_count == 10
    with pytest.raises(CountedMeanwhile):
        count(shop, seen_count=1)
    second = count(shop, seen_count=1, seen_cash=Decimal(105), counted=Decimal(205))
    assert [(one.revision, one.counted) for one in takings_of(shop, today()).counts] == [
        (1, first.counted), (2, second.counted),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"opening": Decimal(-1)}, "opening"),
        ({"counted": Decimal(-1)}, "counted"),
        ({"taken_out": Decimal(-1)}, "taken_out"),
        ({"taken_out": Decimal("195.01")}, "taken_out"),
    ],
)
def test_amounts_that_cannot_be(shop: Shop, changed: dict[str, Decimal], field: str) -> None:
    with pytest.raises(ValidationError) as refused:
        count(shop, reason="Why", **changed)
    assert field in refused.value.message_dict


def test_no_day_to_come_is_closed(shop: Shop) -> None:
    with pytest.raises(ValidationError, match="still to come"):
        count(shop, day=today() + dt.timedelta(days=1), seen_cash=Decimal(0), opening=Decimal(195))


def test_a_month_by_receipt_and_by_rate() -> None:
    shop = ShopFactory()
    TaxRules.objects.create(shop=shop, labour_percent=Decimal(20), parts_percent=Decimal(5))
    customer = CustomerFactory(shop=shop, name="=Petra")
    ticket = ready_ticket(
        "50.00", shop=shop, customer=customer, unit=SuspensionUnitFactory(shop=shop, customer=customer)
    )
    hand_it_over(ticket, part("cash", "60"))
    open_again(ticket=ticket, reason="Wrong price", by=None, seen_version=ticket.version)
    hand_it_over(ready_ticket("10.00", shop=shop), part("cash", "12"))
    rows = list(csv.reader(io.StringIO(receipts_csv(shop, today()).decode("utf-8-sig"))))
    year = today().year
    assert [(row[0], row[1], row[3], row[7:]) for row in rows[1:]] == [
        ("receipt", f"{year}-0001", "", ["20.00", "50.00", "10.00", "60.00"]),
        ("credit", f"C{year}-0001", f"{year}-0001", ["20.00", "-50.00", "-10.00", "-60.00"]),
        ("receipt", f"{year}-0002", "", ["20.00", "10.00", "2.00", "12.00"]),
    ]
    assert rows[1][4] != "=Petra"
    (sums,) = list(csv.reader(io.StringIO(rates_csv(shop, today()).decode("utf-8-sig"))))[1:]
    assert sums == [f"{today():%Y-%m}", "EUR", "VAT", "20.00", "10.00", "2.00", "12.00"]
    other = today().replace(day=1) - dt.timedelta(days=1)
    assert len(receipts_csv(shop, other).splitlines()) == 1
    assert (Receipt.objects.count(), Payment.objects.count()) == (3, 2)
