"""The owner's pages: what is late and why, the shop's settings, and its staff."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from tests.factories import PASSWORD, SpecValueFactory, TicketFactory, UserFactory
from tests.known import known
from workshop.office.overview import overview_of
from workshop.staff.adding import StaffProblem, add_staff, set_active
from workshop.staff.models import Shop, User
from workshop.tickets.models import Ticket

pytestmark = pytest.mark.django_db
DAY = dt.timedelta(days=1)


@pytest.fixture
def owner() -> User:
    return UserFactory(owner=True, with_password=True)


@pytest.fixture
def office(client: Client, owner: User) -> Client:
    client.force_login(owner)
    return client


def test_overview_shows_what_is_late_and_where_it_is(office: Client, owner: User) -> None:
    late = TicketFactory(shop=owner.shop, number=41, waiting=True, promised_on=timezone.localdate() - DAY)
    TicketFactory(shop=owner.shop, number=42)

    text = office.get(reverse("office:overview")).content.decode()

    assert late.customer.name in text
    assert "Waiting for the customer’s answer" in text
    assert reverse("counter:ticket", args=[41]) in text


def test_overview_counts_by_state_and_leaves_other_shops_out(owner: User) -> None:
    today = timezone.localdate()
    TicketFactory(shop=owner.shop, state=Ticket.State.READY, state_since=timezone.now() - 9 * DAY)
    TicketFactory(shop=owner.shop, state=Ticket.State.READY)
    TicketFactory(promised_on=today - DAY)  # another shop's
    TicketFactory(shop=owner.shop, state=Ticket.State.HANDED_BACK, promised_on=today - DAY)
    SpecValueFactory()

    overview = overview_of(known(owner.shop), today)

    assert overview.counts == [("Booked in", 0), ("On the bench", 0), ("Waiting", 0), ("Ready", 2)]
    assert overview.thing("promises") is None
    assert len(known(overview.thing("uncollected")).tickets) == 1
    assert known(overview.thing("values")).count == "1"


def test_overview_keeps_its_number_of_queries(
    office: Client, owner: User, django_assert_max_num_queries: Callable[..., Any]
) -> None:
    for number in range(30):
        TicketFactory(shop=owner.shop, number=100 + number, promised_on=timezone.localdate() - DAY)

    office.get(reverse("office:overview"))  # works out who is due, and writes it down
    with django_assert_max_num_queries(26):
        office.get(reverse("office:overview"))


@pytest.mark.parametrize("role", [{}, {"mechanic": True}])
@pytest.mark.parametrize("route", ["overview", "shop_settings", "staff"])
def test_only_the_owner_comes_in(client: Client, role: dict[str, bool], route: str) -> None:
    client.force_login(UserFactory(**role))

    assert client.get(reverse(f"office:{route}")).status_code == 403


def shop_form(owner: User, **changed: str) -> dict[str, str]:
    shop = owner.shop
    assert shop is not None
    names = (
        "name address phone email paper currency labour_rate_hour time_zone altitude_m pressure_unit length_unit "
        "torque_unit volume_unit mass_unit temperature_unit"
    )
    seen = {"seen_version": str(Shop.objects.get(pk=shop.pk).version)}
    return {name: str(getattr(shop, name)) for name in names.split()} | seen | changed


def test_a_shop_chooses_the_units_it_reads(office: Client, owner: User) -> None:
    response = office.post(reverse("office:shop_settings"), shop_form(owner, pressure_unit="bar", currency="chf"))

    known(owner.shop).refresh_from_db()
    assert response.status_code == 302
    assert (known(owner.shop).pressure_unit, known(owner.shop).currency) == ("bar", "CHF")


def test_the_air_in_the_pump_is_asked_once(office: Client, owner: User) -> None:
    address = reverse("office:shop_settings")
    for typed, kept in (("3.2 ml", 3.2e-6), ("", None), ("4", 4e-6)):
        assert office.post(address, shop_form(owner, pump_hose_m3=typed)).status_code == 302
        known(owner.shop).refresh_from_db()
        assert known(owner.shop).pump_hose_m3 == (None if kept is None else pytest.approx(kept))
    assert re.search(r'name="pump_hose_m3" value="4( ml)?"', office.get(address).text)


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"currency": "euro"}, "Shorten this to 3 characters"),
        ({"currency": "E1"}, "three letters of the currency"),
        ({"time_zone": "Middle/Earth"}, "That time zone is not known."),
        ({"pump_hose_m3": "300"}, "Enter a value from 0 ml to 50 ml."),
        ({"pump_hose_m3": "-1"}, "Enter a value from 0 ml to 50 ml."),
        ({"pump_hose_m3": "3 psi"}, "psi"),
        ({"altitude_m": "9000"}, "Enter a height from −500 to 5,000 m"),
        ({"name": ""}, "Enter this."),
        ({"labour_rate_hour": "-3"}, "Enter 0 or more."),
    ],
)
def test_bad_settings_are_refused_beside_the_field(
    office: Client, owner: User, changed: dict[str, str], said: str
) -> None:
    before = known(owner.shop).name

    response = office.post(reverse("office:shop_settings"), shop_form(owner, **changed))

    assert response.status_code == 422
    assert said in response.content.decode()
    known(owner.shop).refresh_from_db()
    assert known(owner.shop).name == before


def test_a_new_member_gets_a_first_password_and_must_change_it(office: Client, owner: User, client: Client) -> None:
    sent = {"first_name": "Maren", "last_name": "", "username": "maren", "roles": "mechanic"}

    page = office.post(reverse("office:staff"), sent, follow=True).content.decode()

    maren = User.objects.get(username="maren")
    password = next(word for word in page.split() if maren.check_password(word))
    assert maren.must_change_password
    assert (maren.shop, maren.roles) == (owner.shop, "mechanic")
    assert len(password) == 19


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"username": ""}, "Enter this."),
        ({"username": "two words"}, "Enter a valid username"),
        ({"username": "TAKEN"}, "Someone already signs in by that name."),
        ({"roles": "king"}, "not in the list"),
        ({"roles": []}, "Choose one role at least."),
    ],
)
def test_a_bad_new_member_is_refused(
    office: Client, owner: User, changed: dict[str, str | list[str]], said: str
) -> None:
    UserFactory(shop=owner.shop, username="taken")
    good = {"first_name": "Maren", "last_name": "", "username": "maren", "roles": "mechanic"}

    response = office.post(reverse("office:staff"), good | changed)

    assert response.status_code == 422
    assert said in response.content.decode()
    assert not User.objects.filter(first_name="Maren", username="maren").exists()


def test_a_new_password_ends_the_old_one(office: Client, owner: User) -> None:
    clerk = UserFactory(shop=owner.shop, with_password=True)

    office.post(reverse("office:staff_password", args=[clerk.pk]))

    clerk.refresh_from_db()
    assert not clerk.check_password(PASSWORD)
    assert clerk.must_change_password


def test_who_is_shut_out_cannot_sign_in(office: Client, owner: User) -> None:
    clerk = UserFactory(shop=owner.shop, with_password=True)

    office.post(reverse("office:staff_active", args=[clerk.pk]), {"active": "0"})

    refused = Client().post(reverse("sign_in"), {"username": clerk.username, "password": PASSWORD})
    assert refused.status_code == 200  # the form again
    assert not refused.wsgi_request.user.is_authenticated


def test_an_owner_cannot_shut_themselves_out(owner: User) -> None:
    with pytest.raises(StaffProblem, match="cannot shut yourself out"):
        set_active(member=owner, active=False, by=owner)


def test_the_last_owner_stays(owner: User) -> None:
    second, _ = add_staff(
        shop=known(owner.shop), by=owner, username="second", first_name="Ida", last_name="", roles=[User.Role.OWNER]
    )
    set_active(member=second, active=False, by=owner)

    with pytest.raises(StaffProblem, match="only owner"):
        set_active(member=owner, active=False, by=second)


def test_another_shops_staff_are_not_found(office: Client) -> None:
    stranger = UserFactory()

    assert office.post(reverse("office:staff_password", args=[stranger.pk])).status_code == 404
    assert office.post(reverse("office:staff_active", args=[stranger.pk]), {"active": "0"}).status_code == 404
