"""Tax rates with their day, and that what was agreed keeps its tax and its sum."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from contextlib import contextmanager
from decimal import Decimal
from unittest.mock import patch

import pytest
from django.core.exceptions import ValidationError
from django.utils import timezone

from tests.factories import PartLineFactory, TicketFactory
from tests.workshop.charges.test_charges import estimate_of, say, set_rules
from workshop.charges.agreeing import over_agreed
from workshop.charges.closing import freeze_charges
from workshop.charges.labour import charge_service
from workshop.charges.models import TaxRate
from workshop.charges.so_far import mark_price_so_far
from workshop.charges.tax import tax_rules_of
from workshop.charges.tax_rates import set_tax_rate, take_back_tax_rate
from workshop.charges.ticket_charges import charges_of, standing_charges
from workshop.models import Ticket
from workshop.web.versions import StaleVersion

pytestmark = pytest.mark.django_db
TODAY = dt.date(2026, 12, 3)
NEW_YEAR = dt.date(2027, 1, 1)


@contextmanager
def at(moment: dt.datetime) -> Iterator[None]:
    """The clock stands still at a moment."""
    with patch("django.utils.timezone.now", lambda: moment):
        yield


@pytest.fixture
def ticket() -> Ticket:
    """On the bench, 75.00 of labour at 20 %: 90.00 with tax."""
    made = TicketFactory(state="on_the_bench")
    set_rules(made.shop)
    charge_service(ticket=made, level="lowers", by=None)
    return made


def test_what_was_agreed_keeps_its_tax_when_the_rate_is_edited(ticket: Ticket) -> None:
    say(estimate_of(ticket), True)
    set_rules(ticket.shop, seen=1, labour_percent=Decimal(25), parts_percent=Decimal(25))
    assert charges_of(ticket).gross == Decimal("90.00")
    assert over_agreed(ticket) is None
    mark_price_so_far(ticket.shop, [ticket])
    assert ticket.so_far.gross == Decimal("90.00")  # type: ignore[attr-defined]
    assert freeze_charges(ticket=ticket, by=None).gross == Decimal("90.00")


def test_so_it_does_where_prices_come_to_include_the_tax(ticket: Ticket) -> None:
    say(estimate_of(ticket), True)
    set_rules(ticket.shop, seen=1, prices_include_tax=True, name="Sales tax")
    charges, rules = standing_charges(ticket)
    assert (charges.net, charges.tax, charges.gross) == (Decimal("75.00"), Decimal("15.00"), Decimal("90.00"))
    assert (rules.name, rules.prices_include_tax) == ("VAT", False)


def test_a_new_estimate_follows_the_new_rate_and_counts_once_agreed(ticket: Ticket) -> None:
    say(estimate_of(ticket), True)
    set_rules(ticket.shop, seen=1, labour_percent=Decimal(25))
    second = estimate_of(ticket, revision=2)
    assert second.data["charges"]["gross"] == "93.75"
    assert charges_of(ticket).gross == Decimal("90.00")
    say(second, True)
    assert charges_of(ticket).gross == Decimal("93.75")


@pytest.mark.parametrize("answers", [(False,), (True, False)])
def test_what_was_declined_keeps_nothing(ticket: Ticket, answers: tuple[bool, ...]) -> None:
    estimate = estimate_of(ticket)
    for agreed in answers:
        say(estimate, agreed)
    set_rules(ticket.shop, seen=1, labour_percent=Decimal(25))
    assert charges_of(ticket).gross == Decimal("93.75")


def test_an_estimate_from_before_rates_were_frozen_keeps_that_of_its_day(ticket: Ticket) -> None:
    with at(dt.datetime(2026, 12, 3, 12, tzinfo=dt.UTC)):
        set_tax_rate(shop=ticket.shop, seen_version=1, from_on=NEW_YEAR, labour_percent=Decimal(25),
                     parts_percent=Decimal(25), by=None)  # fmt: skip
        estimate = estimate_of(ticket)
        del estimate.data["charges"]["tax"]
        estimate.issued_at = timezone.now()
        estimate.save()
        say(estimate, True)
    with at(dt.datetime(2027, 1, 5, 12, tzinfo=dt.UTC)):
        assert tax_rules_of(ticket.shop).labour_percent == 25
        assert charges_of(ticket).gross == Decimal("90.00")


def test_a_rate_holds_from_its_day(ticket: Ticket) -> None:
    PartLineFactory(ticket=ticket, unit_price=Decimal(100))
    with at(dt.datetime(2026, 12, 3, 12, tzinfo=dt.UTC)):
        set_tax_rate(shop=ticket.shop, seen_version=1, from_on=NEW_YEAR, labour_percent=Decimal(25),
                     parts_percent=Decimal(10), by=None)  # fmt: skip
        assert charges_of(ticket).gross == Decimal("210.00")
    with at(dt.datetime(2026, 12, 31, 22, tzinfo=dt.UTC)):
        assert charges_of(ticket).gross == Decimal("210.00")
    with at(dt.datetime(2027, 1, 1, 0, 30, tzinfo=dt.UTC)):
        assert charges_of(ticket).gross == Decimal("203.75")


class TestRefused:
    @pytest.fixture(autouse=True)
    def today(self) -> Iterator[None]:
        with at(dt.datetime(2026, 12, 3, 12, tzinfo=dt.UTC)):
            yield

    def rate(self, ticket: Ticket, seen: int = 1, **changes: object) -> TaxRate:
        sent = {"from_on": NEW_YEAR, "labour_percent": Decimal(25), "parts_percent": Decimal(25)} | changes
        return set_tax_rate(shop=ticket.shop, seen_version=seen, by=None, **sent)  # type: ignore[arg-type]

    @pytest.mark.parametrize("day", [dt.date(2026, 12, 2), TODAY, dt.date(2002, 1, 1), dt.date(2099, 1, 1)])
    def test_a_day_that_is_not_to_come(self, ticket: Ticket, day: dt.date) -> None:
        with pytest.raises(ValidationError) as refused:
            self.rate(ticket, from_on=day)
        assert list(refused.value.message_dict) == ["from_on"]
        assert not TaxRate.objects.exists()

    @pytest.mark.parametrize("percent", [Decimal(-1), Decimal("100.01"), Decimal(2000)])
    def test_a_rate_that_cannot_be(self, ticket: Ticket, percent: Decimal) -> None:
        with pytest.raises(ValidationError) as refused:
            self.rate(ticket, parts_percent=percent)
        assert list(refused.value.message_dict) == ["parts_percent"]

    def test_two_owners_at_once(self, ticket: Ticket) -> None:
        self.rate(ticket)
        with pytest.raises(StaleVersion):
            self.rate(ticket, labour_percent=Decimal(30))
        assert TaxRate.objects.get().labour_percent == 25

    def test_the_same_day_again_is_the_newer_rate(self, ticket: Ticket) -> None:
        self.rate(ticket)
        self.rate(ticket, seen=2, labour_percent=Decimal(21))
        assert TaxRate.objects.get().labour_percent == 21

    def test_what_is_to_come_is_taken_back_and_what_holds_is_not(self, ticket: Ticket) -> None:
        rate = self.rate(ticket)
        with at(dt.datetime(2027, 1, 1, 9, tzinfo=dt.UTC)), pytest.raises(ValidationError, match="holds already"):
            take_back_tax_rate(rate=rate, seen_version=2)
        take_back_tax_rate(rate=rate, seen_version=2)
        assert not TaxRate.objects.exists()
