"""A job squeezed in names the promises it pushes before it is taken; who goes on all the same is written down."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from tests.factories import ShopFactory, TicketFactory, UserFactory
from tests.workshop.counter.test_counter_screens import booking
from workshop.models import Shop, Ticket, TicketEvent, Visit
from workshop.promise.capacity import set_capacity
from workshop.promise.honest import promises_in_danger
from workshop.promise.squeezed import pushed_by_booking, pushed_by_move, pushed_by_taking, pushed_in_words

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    """Every day of the week one ticket is done."""
    made: Shop = ShopFactory()
    set_capacity(
        shop=made, seen_version=0, mechanics=1, hours_a_day=Decimal(5), closed_weekdays=[], usual_minutes=300,
        unknown_lead_days=7,
    )  # fmt: skip
    return made


@pytest.fixture
def clerk(client: Client, shop: Shop) -> Client:
    client.force_login(UserFactory(shop=shop))
    return client


def in_days(days: int) -> dt.date:
    return timezone.localdate() + dt.timedelta(days=days)


def tickets(shop: Shop, *days: int) -> list[Ticket]:
    return [TicketFactory.create(shop=shop, promised_on=in_days(day), number=7000 + place)
            for place, day in enumerate(days)]  # fmt: skip


def test_a_booking_pushes_what_is_promised_later_and_has_no_room(shop: Shop) -> None:
    _, tight, _ = tickets(shop, 1, 2, 9)
    today = timezone.localdate()
    (pushed,) = pushed_by_booking(shop, today, promised_on=in_days(1))
    assert (pushed.number, pushed.before, pushed.after, pushed.days) == (tight.number, in_days(2), in_days(3), 1)
    assert f"Ticket {tight.number}, promised for" in str(pushed)
    assert "one day later than now." in str(pushed)
    assert pushed_by_booking(shop, today, promised_on=in_days(9)) == []


def test_what_was_named_is_what_the_promises_say_once_it_is_taken(shop: Shop) -> None:
    """The what-if and the marks of all screens are one arithmetic."""
    tickets(shop, 1, 2, 3, 4, 9)
    pushed = pushed_by_booking(shop, timezone.localdate(), promised_on=in_days(2))
    TicketFactory(shop=shop, promised_on=in_days(2), number=8000)
    numbers = dict(Ticket.objects.values_list("pk", "number"))
    told = {numbers[one.ticket_pk]: one.day for one in promises_in_danger(shop, timezone.localdate())}
    new = {8000: told.pop(8000)}
    assert {one.number: one.after for one in pushed} == told
    assert new == {8000: in_days(3)}


def test_a_promise_moved_pushes_those_it_goes_before(shop: Shop) -> None:
    first, second, last = tickets(shop, 1, 2, 9)
    pushed = pushed_by_move(shop, timezone.localdate(), tickets=[last.pk], to=in_days(1))
    assert [(one.number, one.after) for one in pushed] == [(second.number, in_days(3))]
    assert pushed_by_move(shop, timezone.localdate(), tickets=[last.pk], to=in_days(5)) == []
    assert pushed_by_move(shop, timezone.localdate(), tickets=[first.pk], to=in_days(9)) == []


def test_a_job_taken_first_pushes_those_before_it(shop: Shop) -> None:
    first, second, last = tickets(shop, 1, 2, 9)
    pushed = pushed_by_taking(shop, timezone.localdate(), ticket=last.pk)
    assert [(one.number, one.days) for one in pushed] == [(first.number, 1), (second.number, 1)]
    assert pushed_by_taking(shop, timezone.localdate(), ticket=first.pk) == []


def test_many_are_counted_and_the_first_named(shop: Shop) -> None:
    tickets(shop, *range(1, 8))
    words = pushed_in_words(pushed_by_booking(shop, timezone.localdate(), promised_on=in_days(0)))
    assert words.count("promised for") == 4
    assert words.endswith("3 more promises are pushed.")


def test_the_counter_is_told_before_it_books_and_goes_on_by_a_tick(clerk: Client, shop: Shop) -> None:
    tight = tickets(shop, 1)[0]
    data = booking(**{"ticket-promised_on": in_days(0).isoformat()})
    named = f"Ticket {tight.number}, promised for"
    assert named in clerk.post(reverse("counter:book_in_promise"), data).content.decode()
    asked = clerk.post(reverse("counter:book_in"), data)
    page = asked.content.decode()
    assert asked.status_code == 422
    assert named in page
    assert 'value="Jana Novák"' in page
    assert Ticket.objects.count() == 1
    tick = f"{in_days(0).isoformat()} {tight.number}:{in_days(2).isoformat()}"
    assert f'value="{tick}"' in page
    known = {**data, "ticket-pushed_known": tick}
    missing = clerk.post(reverse("counter:book_in"), {**known, "customer-name": ""}).content.decode()
    assert f'value="{tick}" id="id_ticket-pushed_known" checked' in missing.replace("  ", " ")
    assert clerk.post(reverse("counter:book_in"), known).status_code == 302
    assert clerk.post(reverse("counter:book_in"), known).status_code == 302  # pressed twice books once
    (line,) = TicketEvent.objects.filter(kind="squeezed_in")
    assert line.values == {"pushed": [[tight.number, in_days(1).isoformat(), in_days(2).isoformat(), 1]]}
    assert Ticket.objects.count() == 2


def test_a_tick_for_one_day_holds_for_no_other(clerk: Client, shop: Shop) -> None:
    tight = tickets(shop, 1)[0]
    tick = f"{in_days(0).isoformat()} {tight.number}:{in_days(2).isoformat()}"
    data = booking(**{"ticket-promised_on": in_days(1).isoformat(), "ticket-pushed_known": tick})
    assert clerk.post(reverse("counter:book_in"), data).status_code == 302  # behind it: nothing is pushed
    other = booking(**{
        "ticket-promised_on": in_days(0).isoformat(), "ticket-pushed_known": tick, "customer-name": "Oda Lind",
        "customer-phone": "0555 010 999", "unit-serial": "KP-77", "customer-shares_phone": "",
    })  # fmt: skip
    assert clerk.post(reverse("counter:book_in"), other).status_code == 422  # meanwhile it pushes more


def test_where_there_is_room_nobody_is_asked(clerk: Client, shop: Shop) -> None:
    tickets(shop, 9)
    assert (
        clerk.post(reverse("counter:book_in"), booking(**{"ticket-promised_on": in_days(3).isoformat()})).status_code
        == 302
    )
    assert not TicketEvent.objects.filter(kind="squeezed_in").exists()


def test_an_agreement_moved_forward_asks_and_is_written_down(clerk: Client, shop: Shop) -> None:
    _, second, last = tickets(shop, 1, 2, 9)
    address = reverse("counter:edit_agreement", args=[last.number])
    data = {"complaint_words": "Knocks.", "promised_on": in_days(1).isoformat(), "notes": "", "seen_version": "1"}
    asked = clerk.post(address, data)
    assert asked.status_code == 422
    assert f"Ticket {second.number}, promised for" in asked.content.decode()
    tick = f"{in_days(1).isoformat()} {second.number}:{in_days(3).isoformat()}"
    assert clerk.post(address, {**data, "pushed_known": tick}).status_code == 302
    last.refresh_from_db()
    assert last.promised_on == in_days(1)
    assert last.events.get(kind="squeezed_in").values["pushed"][0][0] == second.number


def test_one_day_for_a_visit_asks_too(clerk: Client, shop: Shop) -> None:
    first, one, other = tickets(shop, 1, 9, 9)
    visit = Visit.objects.create(shop=shop)
    Ticket.objects.filter(pk__in=[one.pk, other.pk]).update(visit=visit, customer=one.customer)
    address = reverse("counter:together", args=[one.number])
    data = {"one_day": "", "one-day": in_days(0).isoformat(), "seen_version": "1"}
    asked = clerk.post(address, data)
    assert asked.status_code == 422
    assert f"Ticket {first.number}, promised for" in asked.content.decode()
    tick = f"{in_days(0).isoformat()} {first.number}:{in_days(3).isoformat()}"
    assert clerk.post(address, {**data, "one-pushed_known": tick}).status_code == 302
    assert TicketEvent.objects.filter(kind="squeezed_in", ticket=one).exists()


def test_a_mechanic_is_told_before_taking_a_ticket_out_of_turn(client: Client, shop: Shop) -> None:
    first, last = tickets(shop, 1, 9)
    waits = TicketFactory.create(
        shop=shop, promised_on=in_days(2), number=7100, state="waiting", waiting_for="customer"
    )
    client.force_login(UserFactory(shop=shop, mechanic=True))
    address = reverse("bench:take", args=[last.number])
    asked = client.post(address, {"version": "1"})
    page = asked.content.decode()
    assert asked.status_code == 422
    assert f"Ticket {first.number}, promised for" in page
    assert f"Ticket {waits.number}, promised for" not in page
    assert "Start all the same" in page
    last.refresh_from_db()
    assert last.state == "booked_in"
    tick = f"{timezone.localdate().isoformat()} {first.number}:{in_days(2).isoformat()}"
    assert f'name="pushed_known" value="{tick}"' in page
    assert client.post(address, {"version": "1", "pushed_known": tick}).status_code == 302
    last.refresh_from_db()
    assert (last.state, last.events.filter(kind="squeezed_in").count()) == ("on_the_bench", 1)
    assert client.post(reverse("bench:take", args=[first.number]), {"version": "1"}).status_code == 302  # in its turn
