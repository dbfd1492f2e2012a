"""The kept due list is the one that working out every unit anew gives, whatever was entered and whatever the day."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import DatabaseError
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from hypothesis import given, settings
from hypothesis import strategies as st

from specs.models import SpecValue
from specs.units import to_si
from tests.breadth import examples
from tests.factories import ShopFactory, SpecValueFactory, TicketFactory, UserFactory
from tests.workshop.reminders.due_units import due_unit, queued, row_of
from workshop.customers.models import Customer
from workshop.intervals.forecast import Figures, Rule, forecast
from workshop.intervals.models import CounterReading, IntervalPolicy, Ride, ServiceDone, UnitRule, WeeklyHours
from workshop.intervals.ridden import CounterValue, RideHistory, RideHours, WeeklyFigure
from workshop.intervals.standing import UnitStanding
from workshop.kept.models import DueUnit, UnitChanged
from workshop.models import RemindedService, Shop, SuspensionUnit
from workshop.privacy.erasing import erase_customer
from workshop.reminders import kept_list
from workshop.reminders.due import Wanting
from workshop.reminders.kept_list import Place, bring_up_to_date, differing, look_again_on
from workshop.reminders.queueing import decide, undecide
from workshop.suspension.models import ChangeOfOwner
from workshop.tickets.models import Ticket
from workshop.web import long_lists

NEW_YEAR = dt.date(2026, 1, 1)
DAYS = st.integers(-700, 0).map(lambda days: NEW_YEAR + dt.timedelta(days=days))
HISTORIES = st.builds(
    lambda weekly, rides, counter, changed: RideHistory(
        tuple(sorted(weekly, key=lambda figure: figure.since)),
        tuple(sorted(rides, key=lambda ride: ride.day)),
        tuple(CounterValue(on, 12.0 * place) for place, on in enumerate(sorted(set(counter)))),
        tuple(sorted(changed)),
    ),
    st.lists(
        st.builds(WeeklyFigure, DAYS, st.floats(0, 20), st.booleans(), st.sampled_from(["dry", "wet"])), max_size=3
    ),
    st.lists(st.builds(RideHours, DAYS, st.floats(0.2, 9)), max_size=6),
    st.lists(DAYS, max_size=4),
    st.lists(DAYS, max_size=1),
)
RULES = st.builds(
    Rule,
    st.just("lowers"),
    st.none() | st.floats(5, 300),
    st.none() | st.integers(1, 30),
    st.just("demo data"),
)


def standing_on(
    day: dt.date, rule: Rule, history: RideHistory, counted_from: dt.date, figures: Figures
) -> UnitStanding:
    found = forecast(rule, history, counted_from=counted_from, after_service=True, today=day, figures=figures)
    return UnitStanding(SuspensionUnit(), [rule], history, [found] if found else [], {})


@settings(max_examples=examples(50))
@given(RULES, HISTORIES, DAYS, st.integers(1, 90), st.floats(0, 0.6))
def test_a_unit_stands_as_it_stood_until_it_is_looked_at_again(
    rule: Rule, history: RideHistory, counted_from: dt.date, coming_up: int, spread: float
) -> None:
    figures = Figures(said_hours_spread=spread, coming_up_days=coming_up)
    then = standing_on(NEW_YEAR, rule, history, counted_from, figures)
    again = look_again_on(Wanting(then, then.forecasts, {}), NEW_YEAR, figures)
    assert again is not None
    for days in range(1, (again - NEW_YEAR).days):
        now = standing_on(NEW_YEAR + dt.timedelta(days=days), rule, history, counted_from, figures)
        for before, after in zip(then.forecasts, now.forecasts, strict=bool(then.forecasts)):
            assert (after.standing, after.due) == (before.standing, before.due), days


@pytest.fixture
def shop() -> Shop:
    return ShopFactory.create()


def days_ago(days: int) -> dt.date:
    return timezone.localdate() - dt.timedelta(days=days)


def a_service(unit: SuspensionUnit) -> None:
    ServiceDone.objects.create(unit=unit, level="lowers", on=days_ago(160), told_by="x", at=timezone.now())


def a_service_taken_back(unit: SuspensionUnit) -> None:
    ServiceDone.objects.filter(unit=unit).delete()


def a_service_on_another_day(unit: SuspensionUnit) -> None:
    ServiceDone.objects.filter(unit=unit).update(on=days_ago(150))


def a_rule_of_its_own(unit: SuspensionUnit) -> None:
    UnitRule.objects.create(unit=unit, level="lowers", hours=20, months=9, source="the owner", set_at=timezone.now())


def weekly_hours(unit: SuspensionUnit) -> None:
    a_rule_of_its_own(unit)
    WeeklyHours.objects.create(unit=unit, hours_per_week=9, since=days_ago(60), at=timezone.now())


def rides(unit: SuspensionUnit) -> None:
    a_rule_of_its_own(unit)
    for days in (3, 10, 30):
        began = timezone.now() - dt.timedelta(days=days)
        ended = began + dt.timedelta(hours=5)
        Ride.objects.create(
            unit=unit, began_at=began, ended_at=ended, moving_s=5 * 3600, digest=f"{days:064}", at=timezone.now()
        )


def counter_readings(unit: SuspensionUnit) -> None:
    a_rule_of_its_own(unit)
    for days, hours in ((90, 100), (5, 118)):
        CounterReading.objects.create(unit=unit, on=days_ago(days), counter_hours=hours, at=timezone.now())


def another_owner(unit: SuspensionUnit) -> None:
    weekly_hours(unit)
    ChangeOfOwner.objects.create(unit=unit, on=days_ago(20))


def no_consent(unit: SuspensionUnit) -> None:
    Customer.objects.filter(pk=unit.customer_id).update(agreed_to_reminders=False)


def erased(unit: SuspensionUnit) -> None:
    erase_customer(customer=unit.customer, by=None)


def booked_in(unit: SuspensionUnit) -> None:
    TicketFactory.create(shop=unit.shop, unit=unit, customer=unit.customer)


def handed_back(unit: SuspensionUnit) -> None:
    booked_in(unit)
    bring_up_to_date(unit.shop, timezone.localdate())
    Ticket.objects.filter(unit=unit).update(state=Ticket.State.HANDED_BACK)


def told(unit: SuspensionUnit) -> None:
    queued(unit)


def told_and_called_off(unit: SuspensionUnit) -> None:
    queued(unit)
    bring_up_to_date(unit.shop, timezone.localdate())
    RemindedService.objects.all().delete()


def put_off(unit: SuspensionUnit) -> None:
    decide(keys=row_of(unit).keys, snoozed_until=timezone.localdate() + dt.timedelta(days=12), by=None)


def skipped(unit: SuspensionUnit) -> None:
    decide(keys=row_of(unit).keys, snoozed_until=None, by=None)


def brought_back(unit: SuspensionUnit) -> None:
    keys = row_of(unit).keys
    decide(keys=keys, snoozed_until=None, by=None)
    bring_up_to_date(unit.shop, timezone.localdate())
    undecide(keys=keys)


def other_figures(unit: SuspensionUnit) -> None:
    IntervalPolicy.objects.create(shop=unit.shop, coming_up_days=5)
    bring_up_to_date(unit.shop, timezone.localdate())
    IntervalPolicy.objects.update(coming_up_days=90)


def another_interval(unit: SuspensionUnit) -> None:
    SpecValue.objects.filter(model=unit.model).update(magnitude_si=to_si(24, "time", "months"))


def an_interval_more(unit: SuspensionUnit) -> None:
    SpecValueFactory.create(
        model=unit.model, quantity="full_interval_months", magnitude_si=to_si(3, "time", "months"), typed="3 months"
    )


def no_interval(unit: SuspensionUnit) -> None:
    SpecValue.objects.filter(model=unit.model).delete()


def no_model(unit: SuspensionUnit) -> None:
    SuspensionUnit.objects.filter(pk=unit.pk).update(model=None)


ENTRIES = [
    a_service, a_service_taken_back, a_service_on_another_day, a_rule_of_its_own, weekly_hours, rides,
    counter_readings, another_owner, no_consent, erased, booked_in, handed_back, told, told_and_called_off, put_off,
    skipped, brought_back, other_figures, another_interval, an_interval_more, no_interval, no_model,
]  # fmt: skip


@pytest.mark.django_db
@pytest.mark.parametrize("entry", ENTRIES)
def test_every_entry_is_seen_and_so_is_every_day(shop: Shop, entry: Callable[[SuspensionUnit], None]) -> None:
    unit, today = due_unit(shop, months_ago=7), timezone.localdate()
    due_unit(shop, months_ago=1)
    bring_up_to_date(shop, today)
    entry(unit)
    for days in (0, 1, 2, 5, 11, 12, 13, 30, 45, 100, 101, 140, 200, 400):
        assert differing(shop, today + dt.timedelta(days=days)) == 0, days
    assert differing(shop, today) == 0  # the clock was set back


@pytest.mark.django_db
def test_a_page_that_nothing_changed_for_works_nothing_out(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    due_unit(shop)
    assert bring_up_to_date(shop, timezone.localdate()) == 1
    monkeypatch.setattr(kept_list, "wanting_of", None)  # would raise if it were called
    assert bring_up_to_date(shop, timezone.localdate()) == 0
    assert not UnitChanged.objects.exists()


@pytest.mark.django_db
def test_more_units_than_are_taken_at_once(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(kept_list, "AT_ONCE", 3)
    for _ in range(4):
        due_unit(shop)
    bring_up_to_date(shop, timezone.localdate())
    assert DueUnit.objects.filter(place=Place.OVERDUE).count() == 4
    later = timezone.localdate() + dt.timedelta(days=800)
    DueUnit.objects.update(look_again_on=later)
    assert bring_up_to_date(shop, later) == 4


@pytest.mark.django_db
def test_a_unit_that_was_taken_away_is_no_longer_on_it(shop: Shop) -> None:
    unit = due_unit(shop)
    bring_up_to_date(shop, timezone.localdate())
    pk, _ = unit.pk, unit.delete()
    UnitChanged.objects.create(shop=shop, unit_id=pk)  # as its rows write down that go before it
    bring_up_to_date(shop, timezone.localdate())
    assert not DueUnit.objects.exists()
    assert not UnitChanged.objects.exists()


@pytest.mark.django_db
def test_sums_made_anew_make_the_list_anew(shop: Shop) -> None:
    due_unit(shop)
    bring_up_to_date(shop, timezone.localdate())
    DueUnit.objects.update(place=Place.NOTHING)
    with pytest.raises(CommandError, match="1 units are not where they belong"):
        call_command("check_sums")
    call_command("check_sums", "--mend")
    assert DueUnit.objects.get().place == Place.OVERDUE
    assert differing(shop, timezone.localdate()) == 0


@pytest.fixture
def owner(shop: Shop) -> Client:
    client = Client()
    client.force_login(UserFactory.create(shop=shop, owner=True))
    return client


@pytest.mark.django_db
def test_a_database_that_takes_no_entries_gives_what_is_kept(
    shop: Shop, owner: Client, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    unit = due_unit(shop)
    bring_up_to_date(shop, timezone.localdate())
    due_unit(shop)

    def refused(*args: Any) -> None:
        raise DatabaseError("attempt to write a readonly database")

    monkeypatch.setattr(kept_list, "_work_out", refused)
    page = owner.get(reverse("office:reminders")).content.decode()
    assert unit.customer.name in page
    assert "could not be brought up to date" in caplog.text


@pytest.mark.django_db
def test_a_long_list_is_counted_and_shown_so_far(shop: Shop, owner: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    for _ in range(4):
        due_unit(shop)
    monkeypatch.setattr(long_lists, "MOST", 3)
    page = owner.get(reverse("office:reminders")).content.decode()
    assert "3+" in page
    assert "The list goes on" in page
    assert page.count('name="unit"') == 3
    monkeypatch.setattr(long_lists, "MOST", 5)
    page = owner.get(reverse("office:reminders")).content.decode()
    assert "5+" not in page
    assert "The list goes on" not in page


@pytest.mark.django_db
def test_what_was_put_off_has_its_own_pages(shop: Shop, owner: Client) -> None:
    unit = due_unit(shop)
    skipped(unit)
    page = owner.get(reverse("office:reminders")).content.decode()
    assert "1 put off or skipped" in page
    assert unit.customer.name not in page
    page = owner.get(reverse("office:reminders"), {"who": "put_off"}).content.decode()
    assert unit.customer.name in page
    assert "Bring back" in page
    owner.post(reverse("office:reminders_back", args=[unit.pk]))
    assert unit.customer.name in owner.get(reverse("office:reminders")).content.decode()
