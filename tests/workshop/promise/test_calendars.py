"""Calendars of mechanics and days closed, as the owner enters them: every honest day goes by them."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from pytest_django import DjangoAssertNumQueries

from tests.factories import ShopFactory, TicketFactory, UserFactory
from workshop.models import Absence, BenchCapacity, ClosedDay, MechanicWeek, Shop, User
from workshop.promise.capacity import bench_of, capacity_of, set_capacity
from workshop.promise.closed import close_day, days_off, open_day, set_holidays
from workshop.promise.honest import earliest_day, promises_in_danger
from workshop.promise.opening import OpenSpan, opening_of, set_opening
from workshop.promise.people import add_absence, go_back_to_usual_hours, set_week
from workshop.web.versions import StaleVersion

pytestmark = pytest.mark.django_db
WEEK = [Decimal(6)] * 5 + [Decimal(0)] * 2
EVERY_DAY = [Decimal(5)] * 7


@pytest.fixture
def shop() -> Shop:
    """A bench of one that works five hours on each day of the week, so that no test depends on today's."""
    made: Shop = ShopFactory()
    set_capacity(
        shop=made, seen_version=0, mechanics=1, hours_a_day=Decimal(5), closed_weekdays=[], usual_minutes=300,
        unknown_lead_days=7,
    )  # fmt: skip
    return made


@pytest.fixture
def ana(shop: Shop) -> User:
    return UserFactory.create(shop=shop, mechanic=True, first_name="Ana", last_name="Rook")


@pytest.fixture
def owner(shop: Shop) -> User:
    return UserFactory.create(shop=shop, owner=True)


def in_days(days: int) -> dt.date:
    return timezone.localdate() + dt.timedelta(days=days)


def minutes_on(shop: Shop, day: dt.date) -> float:
    return bench_of(capacity_of(shop), timezone.localdate()).minutes_on(day)


class TestWeeks:
    def test_a_shop_without_calendars_reckons_as_before(self, shop: Shop, ana: User, owner: User) -> None:
        UserFactory(shop=shop, mechanic=True)
        assert minutes_on(shop, in_days(1)) == 300  # one mechanic was set, whoever signs in
        assert "one mechanic at 5 h a day." in earliest_day(shop, timezone.localdate()).reasons[0]

    def test_the_day_has_the_hours_of_its_mechanics_together(self, shop: Shop, ana: User, owner: User) -> None:
        set_week(mechanic=ana, seen_version=0, hours=[Decimal("3.5")] * 7)
        assert minutes_on(shop, in_days(1)) == 210
        assert "one mechanic at the hours of the calendar." in earliest_day(shop, timezone.localdate()).reasons[0]
        UserFactory(shop=shop, mechanic=True)  # without a week of his own: the bench's five hours
        assert minutes_on(shop, in_days(1)) == 510
        set_week(mechanic=owner, seen_version=0, hours=[Decimal(1)] * 7)
        assert minutes_on(shop, in_days(1)) == 570

    def test_who_left_is_not_counted_and_has_no_calendar_to_fill(self, shop: Shop, ana: User, owner: User) -> None:
        other = UserFactory(shop=shop, mechanic=True)
        for mechanic in (ana, other):
            set_week(mechanic=mechanic, seen_version=0, hours=EVERY_DAY)
        User.objects.filter(pk=other.pk).update(is_active=False)
        assert minutes_on(shop, in_days(1)) == 300
        with pytest.raises(ValidationError, match="has left"):
            set_week(mechanic=other, seen_version=1, hours=EVERY_DAY)
        with pytest.raises(ValidationError, match="has left"):
            add_absence(mechanic=other, by=owner, kind="illness", first=in_days(1), last=in_days(1))

    def test_the_last_who_has_a_week_leaves_and_the_bench_has_its_hours_again(self, shop: Shop, ana: User) -> None:
        set_week(mechanic=ana, seen_version=0, hours=[Decimal(2)] * 7)
        go_back_to_usual_hours(mechanic=ana, seen_version=1)
        assert minutes_on(shop, in_days(1)) == 300
        set_week(mechanic=ana, seen_version=0, hours=[Decimal(2)] * 7)
        User.objects.filter(pk=ana.pk).update(is_active=False)
        assert minutes_on(shop, in_days(1)) == 300

    def test_hours_that_no_day_has_are_refused_by_the_form_the_function_and_the_database(
        self, shop: Shop, ana: User
    ) -> None:
        with pytest.raises(ValidationError, match="from 0 to 24"):
            set_week(mechanic=ana, seen_version=0, hours=[Decimal(25), *WEEK[1:]])
        set_week(mechanic=ana, seen_version=0, hours=WEEK)
        with pytest.raises(IntegrityError), transaction.atomic():
            MechanicWeek.objects.update(friday=25)

    def test_no_hour_at_all_and_hours_on_a_day_of_rest_are_refused(self, shop: Shop, ana: User) -> None:
        with pytest.raises(ValidationError, match="hours of one day at least"):
            set_week(mechanic=ana, seen_version=0, hours=[Decimal(0)] * 7)
        BenchCapacity.objects.update(closed_weekdays=[6])
        with pytest.raises(ValidationError) as refused:
            set_week(mechanic=ana, seen_version=0, hours=EVERY_DAY)
        assert "The bench rests on Sunday" in refused.value.message_dict["sunday"][0]

    def test_clerks_have_no_bench_and_two_owners_at_one_week_are_told(self, shop: Shop, ana: User) -> None:
        with pytest.raises(ValidationError, match="does not work at the bench"):
            set_week(mechanic=UserFactory(shop=shop), seen_version=0, hours=WEEK)
        set_week(mechanic=ana, seen_version=0, hours=WEEK)
        with pytest.raises(StaleVersion):
            set_week(mechanic=ana, seen_version=0, hours=EVERY_DAY)
        assert MechanicWeek.objects.get().sunday == 0


class TestAbsences:
    @pytest.fixture(autouse=True)
    def week(self, ana: User) -> None:
        set_week(mechanic=ana, seen_version=0, hours=EVERY_DAY)

    def test_whole_and_half_days_move_the_honest_day(self, shop: Shop, ana: User, owner: User) -> None:
        today = timezone.localdate()
        assert earliest_day(shop, today).day == in_days(1)
        add_absence(mechanic=ana, by=owner, kind="illness", first=in_days(1), last=in_days(2), reason="Flu")
        assert earliest_day(shop, today).day == in_days(3)
        add_absence(mechanic=ana, by=owner, kind="holiday", first=in_days(3), last=in_days(4), half=True)
        assert earliest_day(shop, today).day == in_days(4)

    @pytest.mark.parametrize(("first", "last"), [(3, 5), (5, 7), (1, 9), (4, 4)])
    def test_absences_that_share_a_day_are_refused(
        self, shop: Shop, ana: User, owner: User, first: int, last: int
    ) -> None:
        add_absence(mechanic=ana, by=owner, kind="holiday", first=in_days(4), last=in_days(6))
        first = min(first, 6)
        with pytest.raises(ValidationError) as refused:
            add_absence(mechanic=ana, by=owner, kind="illness", first=in_days(first), last=in_days(last))
        assert "away already" in refused.value.message_dict["first"][0]
        add_absence(mechanic=ana, by=owner, kind="holiday", first=in_days(7), last=in_days(7))

    def test_an_end_before_the_start_and_years_are_refused(self, shop: Shop, ana: User, owner: User) -> None:
        with pytest.raises(ValidationError) as refused:
            add_absence(mechanic=ana, by=owner, kind="holiday", first=in_days(4), last=in_days(3))
        assert refused.value.message_dict == {"last": ["It cannot end before it begins."]}
        with pytest.raises(ValidationError, match="a year at most"):
            add_absence(mechanic=ana, by=owner, kind="holiday", first=in_days(4), last=in_days(500))
        with pytest.raises(IntegrityError), transaction.atomic():
            Absence.objects.create(
                mechanic=ana, first=in_days(4), last=in_days(3), by=owner, at=timezone.now(), kind="holiday"
            )

    def test_an_absence_is_taken_from_a_week(self, shop: Shop, owner: User) -> None:
        other = UserFactory(shop=shop, mechanic=True)
        with pytest.raises(ValidationError, match="week first"):
            add_absence(mechanic=other, by=owner, kind="holiday", first=in_days(1), last=in_days(1))

    def test_statements_do_not_grow_with_mechanics_and_absences(
        self, shop: Shop, ana: User, owner: User, django_assert_num_queries: DjangoAssertNumQueries
    ) -> None:
        def fill() -> None:
            mechanic = UserFactory(shop=shop, mechanic=True)
            set_week(mechanic=mechanic, seen_version=0, hours=EVERY_DAY)
            add_absence(mechanic=mechanic, by=owner, kind="holiday", first=in_days(2), last=in_days(3))

        fill()
        for _ in range(2):
            with django_assert_num_queries(4):  # the capacity, closed days, mechanics with their weeks, absences
                minutes_on(shop, in_days(1))
            fill()


class TestDaysClosed:
    def test_public_holidays_are_days_of_rest_for_bench_and_counter(self, shop: Shop) -> None:
        christmas = dt.date(timezone.localdate().year + 1, 12, 25)
        set_opening(shop=shop, week={day: (OpenSpan(dt.time(9), dt.time(18)),) for day in range(7)})
        assert opening_of(shop, timezone.localdate()).on(christmas)
        set_holidays(shop=shop, seen_version=1, country="DE", subdivision="BY")
        assert minutes_on(shop, christmas) == 0
        assert not opening_of(shop, timezone.localdate()).on(christmas)
        assert earliest_day(shop, christmas - dt.timedelta(days=1)).day == christmas + dt.timedelta(days=2)

    def test_one_is_struck_and_kept_again_and_another_day_closed(self, shop: Shop) -> None:
        set_holidays(shop=shop, seen_version=1, country="DE")
        christmas = dt.date(timezone.localdate().year + 1, 12, 25)
        open_day(shop=shop, day=christmas)
        open_day(shop=shop, day=christmas)  # twice is once
        assert minutes_on(shop, christmas) == 300
        (shown,) = days_off(capacity_of(shop), christmas, christmas)
        assert (shown.is_open, shown.is_public, shown.why) == (True, True, "Christmas Day")
        close_day(shop=shop, day=christmas)
        assert minutes_on(shop, christmas) == 0
        assert not ClosedDay.objects.exists()
        with pytest.raises(ValidationError, match="closed already"):
            close_day(shop=shop, day=christmas)
        eve = christmas - dt.timedelta(days=1)
        close_day(shop=shop, day=eve, why="Stock-take")
        assert minutes_on(shop, eve) == 0
        open_day(shop=shop, day=eve)
        assert minutes_on(shop, eve) == 300

    def test_a_day_closed_by_hand_that_is_a_holiday_too_is_opened_as_a_whole(self, shop: Shop) -> None:
        christmas = dt.date(timezone.localdate().year + 1, 12, 25)
        close_day(shop=shop, day=christmas, why="Ours")
        set_holidays(shop=shop, seen_version=1, country="DE")
        open_day(shop=shop, day=christmas)
        assert minutes_on(shop, christmas) == 300

    def test_countries_and_parts_that_are_not_are_refused(self, shop: Shop) -> None:
        with pytest.raises(ValidationError, match="not known"):
            set_holidays(shop=shop, seen_version=1, country="QQ")
        with pytest.raises(ValidationError, match="part of the country"):
            set_holidays(shop=shop, seen_version=1, country="AT", subdivision="BY")
        with pytest.raises(StaleVersion):
            set_holidays(shop=shop, seen_version=7, country="AT")
        with pytest.raises(IntegrityError), transaction.atomic():
            BenchCapacity.objects.update(holiday_subdivision="BY")


class TestScreens:
    @pytest.fixture(autouse=True)
    def signed_in(self, client: Client, owner: User) -> None:
        client.force_login(owner)

    def test_the_owner_enters_a_week_and_a_wrong_hour_loses_nothing(
        self, client: Client, shop: Shop, ana: User
    ) -> None:
        address = reverse("office:calendar", args=[ana.pk])
        typed = {"seen_version": "0", "monday": "25", "tuesday": "4.5", "friday": "4"}
        answer = client.post(address, typed)
        assert answer.status_code == 422
        page = answer.content.decode()
        assert "Enter hours from 0 to 24." in page
        assert 'value="4.5"' in page
        assert client.post(address, {**typed, "monday": "8"}).status_code == 302
        assert list(map(float, MechanicWeek.objects.get().hours)) == [8, 4.5, 0, 0, 4, 0, 0]
        stale = client.post(address, {**typed, "monday": "7"})
        assert stale.status_code == 409
        assert "Somebody changed this while you were typing" in stale.content.decode()
        assert reverse("office:calendar", args=[ana.pk]) in client.get(reverse("office:hours")).content.decode()

    def test_the_page_of_who_has_no_week_yet_opens(self, client: Client, ana: User) -> None:
        page = client.get(reverse("office:calendar", args=[ana.pk]))
        assert page.status_code == 200
        assert "has no calendar" in page.content.decode()

    def test_an_absence_says_which_promises_do_not_hold_any_more(self, client: Client, shop: Shop, ana: User) -> None:
        set_week(mechanic=ana, seen_version=0, hours=EVERY_DAY)
        holds = TicketFactory.create(shop=shop, promised_on=in_days(9))
        falls = TicketFactory.create(shop=shop, promised_on=in_days(2), number=holds.number + 1)
        assert promises_in_danger(shop, timezone.localdate()) == []
        data = {"first": in_days(1).isoformat(), "last": in_days(3).isoformat(), "kind": "illness", "reason": "Flu"}
        page = client.post(reverse("office:add_absence", args=[ana.pk]), data, follow=True).content.decode()
        assert "Promises that do not hold any more" in page
        assert f"ticket {falls.number}," in page
        assert f"ticket {holds.number}," not in page
        assert "Illness: Flu" in page
        again = client.post(reverse("office:add_absence", args=[ana.pk]), data)
        assert again.status_code == 422
        assert "away already" in again.content.decode()
        assert 'value="Flu"' in again.content.decode()
        client.post(reverse("office:end_absence", args=[Absence.objects.get().pk]))
        assert promises_in_danger(shop, timezone.localdate()) == []

    def test_country_then_part_and_a_new_country_begins_without_a_part(self, client: Client, shop: Shop) -> None:
        address, hours = reverse("office:public_holidays"), reverse("office:hours")
        page = client.post(address, {"seen_version": "1", "country": "DE"}, follow=True).content.decode()
        assert "Bayern (BY)" in page
        assert "Christmas Day" in page
        client.post(address, {"seen_version": "2", "country": "DE", "subdivision": "BY"})
        assert BenchCapacity.objects.get().holiday_subdivision == "BY"
        client.post(address, {"seen_version": "3", "country": "AT", "subdivision": "BY"})
        stored = BenchCapacity.objects.get()
        assert (stored.holiday_country, stored.holiday_subdivision) == ("AT", "")
        stale = client.post(address, {"seen_version": "1", "country": ""}, follow=True)
        assert "meanwhile" in stale.content.decode()
        assert client.post(address, {"seen_version": "4", "country": "QQ"}, follow=True).status_code == 200
        assert BenchCapacity.objects.get().holiday_country == "AT"
        assert client.get(hours).status_code == 200

    def test_the_reason_is_for_the_owner_alone(self, client: Client, shop: Shop, ana: User, owner: User) -> None:
        set_week(mechanic=ana, seen_version=0, hours=EVERY_DAY)
        add_absence(mechanic=ana, by=owner, kind="illness", first=in_days(1), last=in_days(1), reason="Broken wrist")
        client.force_login(ana)
        assert client.get(reverse("office:calendar", args=[ana.pk])).status_code == 403
        for address in ("bench:board", "counter:today", "counter:outlook"):
            assert "Broken wrist" not in client.get(reverse(address)).content.decode()

    def test_the_load_of_a_mechanic_is_drawn_and_told(self, client: Client, shop: Shop, ana: User) -> None:
        set_week(mechanic=ana, seen_version=0, hours=EVERY_DAY)
        TicketFactory(shop=shop, state="on_the_bench", mechanic=ana)
        TicketFactory(shop=shop)
        page = client.get(reverse("office:figure", args=["days"])).content.decode()
        assert "10 h of work are queued" in page
        assert f'aria-label="{ana}, work by day: ' in page
        assert "Not given to anybody yet" in page
        assert ">hours</text>" in page

    def test_pages_take_the_same_statements_as_they_grow(
        self, client: Client, shop: Shop, ana: User, owner: User
    ) -> None:
        set_week(mechanic=ana, seen_version=0, hours=EVERY_DAY)
        addresses = [reverse("office:hours"), reverse("office:calendar", args=[ana.pk])]
        addresses.append(reverse("office:figure", args=["days"]))

        def grow(first: int) -> None:
            add_absence(mechanic=ana, by=owner, kind="holiday", first=in_days(first), last=in_days(first))
            close_day(shop=shop, day=in_days(first + 40))
            mechanic = UserFactory(shop=shop, mechanic=True)
            TicketFactory(shop=shop, state="on_the_bench", mechanic=mechanic)

        grow(3)
        counts = []
        for round_ in range(2):
            counts.append([_statements(client, address) for address in addresses])
            grow(round_ + 5)
        assert counts[0] == counts[1]


def _statements(client: Client, address: str) -> int:
    with CaptureQueriesContext(connection) as asked:
        assert client.get(address).status_code == 200
    return len(asked)
