"""Who was not seen for long is erased by itself, where the owner said so, and never by a clock that jumps ahead."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.core.management import call_command
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pytest_django.asserts import assertContains, assertNotContains

from tests.factories import CustomerFactory, ShopFactory, TicketFactory, UserFactory
from tests.handed_over import hand_it_over, part, ready_ticket
from workshop.customers.models import Customer
from workshop.customers.privacy_models import NOTICE, ErasureAhead, RetentionPolicy
from workshop.models import LastVisit, SecurityEvent
from workshop.office.overview import overview_of
from workshop.privacy import retention
from workshop.privacy.retention import FOUND_ON_DAYS, erase_whom_nobody_saw, to_be_erased
from workshop.staff.models import Shop
from workshop.tickets.models import Ticket
from workshop.till.standing import open_sums
from workshop.till.taking import take_payment

pytestmark = pytest.mark.django_db
DAY = dt.timedelta(days=1)
TODAY = timezone.localdate()


def seen(shop: Shop, years_ago: float) -> Customer:
    """Somebody whose last visit was so long ago."""
    customer = CustomerFactory.create(shop=shop)
    handed_back = timezone.now() - dt.timedelta(days=years_ago * 365.25)
    TicketFactory.create(shop=shop, customer=customer, state=Ticket.State.HANDED_BACK, state_since=handed_back)
    return customer


@pytest.fixture
def shop() -> Shop:
    shop = ShopFactory.create()
    RetentionPolicy.objects.create(shop=shop, years=3, by_itself=True)
    return shop


def is_erased(customer: Customer) -> bool:
    return hasattr(Customer.objects.get(pk=customer.pk), "erasure")


def each_day(shop: Shop, first: dt.date, days: int) -> int:
    return sum(erase_whom_nobody_saw(shop, first + DAY * number) for number in range(days))


def test_they_are_announced_for_thirty_days_and_then_erased(shop: Shop) -> None:
    gone, recent = seen(shop, 4), seen(shop, 1)
    assert each_day(shop, TODAY, NOTICE.days) == 0
    assert [ahead.customer for ahead in to_be_erased(shop)] == [gone]
    assert erase_whom_nobody_saw(shop, TODAY + NOTICE) == 1
    assert is_erased(gone)
    assert not is_erased(recent)
    assert not ErasureAhead.objects.exists()
    gone.refresh_from_db()
    assert gone.name == "Erased"
    assert gone.erasure.by is None
    assert gone.erasure.reason == "Not seen for 3 years"
    assert SecurityEvent.objects.get().kind == "erased_by_itself"
    assert erase_whom_nobody_saw(shop, TODAY + NOTICE + DAY) == 0


def test_nobody_is_without_a_word_of_the_owner(shop: Shop) -> None:
    RetentionPolicy.objects.update(by_itself=False)
    seen(shop, 4)
    assert each_day(shop, TODAY, 60) == 0
    assert not ErasureAhead.objects.exists()


def test_the_word_taken_back_takes_back_the_announcement(shop: Shop) -> None:
    gone = seen(shop, 4)
    each_day(shop, TODAY, 29)
    RetentionPolicy.objects.update(by_itself=False)
    erase_whom_nobody_saw(shop, TODAY + 29 * DAY)
    RetentionPolicy.objects.update(by_itself=True)
    assert each_day(shop, TODAY + 30 * DAY, NOTICE.days) == 0
    assert not is_erased(gone)


@pytest.mark.parametrize("jumps", [[0], [0, 31], [0, 31, 62, 400], range(FOUND_ON_DAYS - 1)])
def test_a_clock_that_jumps_ahead_erases_nobody(shop: Shop, jumps: list[int]) -> None:
    recent = seen(shop, 1)
    far = TODAY + dt.timedelta(days=10 * 365)
    for jump in jumps:
        assert erase_whom_nobody_saw(shop, far + DAY * jump) == 0
    assert ErasureAhead.objects.exists()
    assert each_day(shop, TODAY, 40) == 0
    assert not ErasureAhead.objects.exists()
    assert not is_erased(recent)


def test_what_was_announced_while_the_clock_was_ahead_counts_from_today(shop: Shop) -> None:
    gone = seen(shop, 4)
    each_day(shop, TODAY + 500 * DAY, 2)
    each_day(shop, TODAY, 1)
    ahead = ErasureAhead.objects.get()
    assert (ahead.customer, ahead.since, ahead.last_on, ahead.days) == (gone, TODAY, TODAY, 1)
    each_day(shop, TODAY + 300 * DAY, 1)
    each_day(shop, TODAY + DAY, 1)
    ahead.refresh_from_db()
    assert (ahead.since, ahead.last_on, ahead.days) == (TODAY, TODAY + DAY, 2)


def test_a_machine_that_is_on_now_and_then_waits_for_twenty_of_its_days(shop: Shop) -> None:
    seen(shop, 4)
    erased = [erase_whom_nobody_saw(shop, TODAY + 7 * DAY * week) for week in range(FOUND_ON_DAYS)]
    assert erased == [0] * (FOUND_ON_DAYS - 1) + [1]


def test_the_same_day_again_counts_once(shop: Shop) -> None:
    seen(shop, 4)
    for _ in range(50):
        erase_whom_nobody_saw(shop, TODAY)
    assert ErasureAhead.objects.get().days == 1


def test_whoever_comes_back_is_announced_no_more(shop: Shop) -> None:
    gone = seen(shop, 4)
    each_day(shop, TODAY, 29)
    TicketFactory.create(shop=shop, customer=gone)
    assert each_day(shop, TODAY + 29 * DAY, 40) == 0
    assert not ErasureAhead.objects.exists()


def test_whose_money_is_open_stays_until_that_is_settled(shop: Shop) -> None:
    ticket = ready_ticket(shop=shop)
    hand_it_over(ticket, on_account=True)
    gone, other = ticket.customer, seen(shop, 4)
    LastVisit.objects.filter(customer=gone).update(at=timezone.now() - dt.timedelta(days=5 * 366))
    assert each_day(shop, TODAY, 35) == 1
    assert (is_erased(gone), is_erased(other)) == (False, True)
    (owed,) = open_sums(shop)
    take_payment(ticket=ticket, part=part("card", str(owed.amount)), client_id=uuid.uuid4(), by=None)
    assert each_day(shop, TODAY + 35 * DAY, 1) == 1


def test_so_many_a_day(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(retention, "MOST_A_DAY", 2)
    for _ in range(5):
        seen(shop, 4)
    each_day(shop, TODAY, NOTICE.days)
    assert [erase_whom_nobody_saw(shop, TODAY + NOTICE + DAY * day) for day in range(4)] == [2, 2, 1, 0]


def test_another_shops_people_are_let_be(shop: Shop) -> None:
    other = seen(ShopFactory.create(), 9)
    assert each_day(shop, TODAY, 40) == 0
    assert not is_erased(other)


class TestOnScreen:
    @pytest.fixture
    def owner(self, client: Client, shop: Shop) -> Client:
        client.force_login(UserFactory.create(shop=shop, owner=True))
        return client

    def test_the_owner_sees_it_coming_and_keeps_one(self, owner: Client, shop: Shop) -> None:
        gone = seen(shop, 4)
        each_day(shop, TODAY, 1)
        (thing,) = [thing for thing in overview_of(shop, TODAY).things if thing.key == "erasures"]
        assert (thing.count, thing.cure.url) == ("1", reverse("office:privacy"))
        assertContains(owner.get(thing.cure.url), "at the earliest")
        page = reverse("office:privacy_person", args=[gone.pk])
        assertContains(owner.get(page), "Keep them")
        for _ in range(2):
            owner.post(reverse("office:privacy_hold", args=[gone.pk]), {"keep": "1"})
        assertContains(owner.get(page), "You keep them all the same")
        assertContains(owner.get(reverse("office:privacy")), "you keep them")
        assert each_day(shop, TODAY, 40) == 0
        owner.post(reverse("office:privacy_hold", args=[gone.pk]), {"keep": "0"})
        assert each_day(shop, TODAY + 40 * DAY, 1) == 1

    def test_who_is_not_announced_cannot_be_kept(self, owner: Client, shop: Shop) -> None:
        recent = seen(shop, 1)
        page = owner.post(reverse("office:privacy_hold", args=[recent.pk]), {"keep": "1"}, follow=True)
        assertContains(page, "is not to be erased automatically")
        assertNotContains(page, "Keep them")

    def test_it_is_set_with_a_figure_and_written_down(self, owner: Client, shop: Shop) -> None:
        address, policy = reverse("office:privacy"), RetentionPolicy.objects.get()
        sent = {"years": "", "by_itself": "on", "seen_version": str(policy.version)}
        assertContains(owner.post(address, sent), "Enter after how many years", status_code=422)
        assert owner.post(address, {**sent, "years": "7"}).status_code == 302
        policy.refresh_from_db()
        assert (policy.years, policy.by_itself) == (7, True)
        assert SecurityEvent.objects.get().values == {"how": "after 7 years erased automatically"}
        assertContains(owner.get(reverse("office:privacy_register")), "erased automatically thirty days later")

    def test_a_refusal_writes_nothing_down(self, owner: Client, shop: Shop) -> None:
        sent = {"years": "7", "by_itself": "on", "seen_version": "99"}
        assert owner.post(reverse("office:privacy"), sent).status_code == 409
        assert not SecurityEvent.objects.exists()


def test_it_runs_with_the_reminders(shop: Shop, capsys: pytest.CaptureFixture[str]) -> None:
    gone = seen(shop, 4)
    ErasureAhead.objects.create(customer=gone, since=TODAY - NOTICE, last_on=TODAY - DAY, days=NOTICE.days)
    call_command("send_reminders")
    assert is_erased(gone)
    assert "1 not seen for long, erased." in capsys.readouterr().out
