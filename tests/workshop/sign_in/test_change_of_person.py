"""A fast change of person at a shared device: who may, by which code, how often, and what it opens."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import pytest
from django.contrib.auth.hashers import identify_hasher
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pytest_django import Settings
from pytest_django.asserts import assertContains, assertNotContains, assertRedirects

from tests.factories import PASSWORD, ShopFactory, TicketFactory, UserFactory
from tests.known import known
from workshop.models import Device, QuickCode, User, WrongCode
from workshop.staff.adding import set_active, set_new_password
from workshop.staff.devices import COOKIE, end
from workshop.staff.one_time_codes import code_at, new_secret, step_at
from workshop.staff.quick_codes import (
    MOST_WRONG,
    MOST_WRONG_ANYWHERE,
    MOST_WRONG_ON_DEVICE,
    WAIT,
    QuickCodeRefused,
    forget_code,
    person_by_code,
    set_code,
)
from workshop.staff.roles import OFFICE_RIGHTS, Right
from workshop.staff.second_factor import set_up_second_factor

pytestmark = pytest.mark.django_db
CODE = "2580"
CHANGE = "change_person"


@pytest.fixture
def owner() -> User:
    made = UserFactory(roles="counter mechanic owner", first_name="Hesper", with_password=True)
    set_code(user=made, code=CODE)
    return made


@pytest.fixture
def mechanic(owner: User) -> User:
    made = UserFactory(shop=owner.shop, mechanic=True, first_name="Orrin", with_password=True)
    set_code(user=made, code="7391")
    return made


@pytest.fixture
def tablet(owner: User) -> Client:
    """A device that the owner has let in and signed out of."""
    client = Client()
    client.force_login(owner)
    client.post(reverse("office:devices"), {"name": "Bench tablet"})
    client.post(reverse("sign_out"))
    return client


def device() -> Device:
    return Device.objects.get()


def change(tablet: Client, user: User, code: str) -> str:
    """Try to change person; what the page says of the code, empty where it counted."""
    response = tablet.post(reverse(CHANGE), {"person": user.pk, "code": code})
    if response.status_code == 302:
        assertRedirects(response, reverse("home"), fetch_redirect_response=False)
        return ""
    assert response.status_code == 422
    return " ".join(response.context["form"].errors.get("code", []))


def signed_in(client: Client) -> str | None:
    found: str | None = client.session.get("_auth_user_id")
    return found


class TestLettingADeviceIn:
    def test_an_owner_does_it_on_the_device_and_the_cookie_is_kept_from_scripts(
        self, tablet: Client, settings: Settings
    ) -> None:
        cookie = tablet.cookies[COOKIE]
        assert cookie["httponly"]
        assert cookie["samesite"] == "Lax"
        assert bool(cookie["secure"]) is settings.SESSION_COOKIE_SECURE
        assert device().digest not in cookie.value
        assert (device().name, device().ended_at) == ("Bench tablet", None)

    def test_over_tls_the_cookie_is_sent_over_nothing_else(self, client: Client, owner: User) -> None:
        client.force_login(owner)
        client.post(reverse("office:devices"), {"name": "Bench tablet"}, secure=True)
        assert client.cookies[COOKIE]["secure"]

    def test_the_same_name_twice_is_refused_beside_its_field(self, tablet: Client, owner: User) -> None:
        other = Client()
        other.force_login(owner)
        response = other.post(reverse("office:devices"), {"name": "Bench tablet"})
        assertContains(response, "There is a device of that name already.", status_code=422)
        assert COOKIE not in other.cookies
        end(device=device(), by=owner)
        assert other.post(reverse("office:devices"), {"name": "Bench tablet"}).status_code == 302

    def test_pressed_twice_or_let_in_again_it_stays_one(self, tablet: Client, owner: User) -> None:
        tablet.force_login(owner)
        response = tablet.post(reverse("office:devices"), {"name": "Another name"}, follow=True)
        assertContains(response, "This device is let in already, as Bench tablet.")
        assert Device.objects.count() == 1

    def test_a_cookie_that_was_made_up_is_no_device(self, tablet: Client, mechanic: User) -> None:
        signed = tablet.cookies[COOKIE].value
        for forged in ("x", signed[:-1] + ("A" if signed[-1] != "A" else "B"), "secret:1:2"):
            client = Client()
            client.cookies[COOKIE] = forged
            response = client.post(reverse(CHANGE), {"person": mechanic.pk, "code": "7391"})
            assertContains(response, "This device is not let in", status_code=422)
            assert signed_in(client) is None

    def test_the_list_names_the_devices_of_this_shop(self, tablet: Client, owner: User) -> None:
        stranger = UserFactory(owner=True)
        elsewhere = Client()
        elsewhere.force_login(stranger)
        elsewhere.post(reverse("office:devices"), {"name": "Far tablet"})
        tablet.force_login(owner)
        page = tablet.get(reverse("office:devices"))
        assertContains(page, "Bench tablet")
        assertNotContains(page, "Far tablet")
        far = Device.objects.get(name="Far tablet")
        assert tablet.post(reverse("office:device_end", args=[far.pk])).status_code == 404


class TestChanging:
    def test_the_right_code_makes_it_theirs_and_the_other_way_round(
        self, tablet: Client, owner: User, mechanic: User
    ) -> None:
        for user, code in ((mechanic, "7391"), (owner, CODE), (owner, CODE), (mechanic, "7391")):
            assert change(tablet, user, code) == ""
            assert signed_in(tablet) == str(user.pk)
            page = tablet.get(reverse("bench:board"))
            assertContains(page, user.first_name)
            assertContains(page, f'href="{reverse(CHANGE)}"')
        assert device().last_used_at is not None

    def test_the_page_names_who_is_signed_in_and_who_can_be(self, tablet: Client, owner: User, mechanic: User) -> None:
        UserFactory(shop=owner.shop, first_name="Without", last_name="Code")
        stranger = UserFactory(first_name="Stranger")
        set_code(user=stranger, code="9173")
        page = tablet.get(reverse(CHANGE))
        assertContains(page, "Nobody is signed in on Bench tablet")
        assert [label for _, label in page.context["form"].fields["person"].choices] == sorted(
            [str(owner), str(mechanic)]
        )
        change(tablet, mechanic, "7391")
        assertContains(tablet.get(reverse(CHANGE)), f"<strong>{mechanic}</strong>", html=True)

    def test_a_session_of_somebody_else_is_gone_with_what_it_held(
        self, tablet: Client, owner: User, mechanic: User
    ) -> None:
        change(tablet, mechanic, "7391")
        session = tablet.session
        session["of_the_mechanic"] = "yes"
        session.save()
        change(tablet, owner, CODE)
        assert "of_the_mechanic" not in tablet.session

    def test_a_wrong_code_is_said_plainly_and_changes_nothing(
        self, tablet: Client, owner: User, mechanic: User
    ) -> None:
        change(tablet, owner, CODE)
        assert change(tablet, mechanic, CODE) == f"That is not the code of {mechanic}. Try again."
        assert signed_in(tablet) == str(owner.pk)

    @pytest.mark.parametrize(
        ("sent", "said"),
        [
            ({"code": "7391"}, "Choose who you are."),
            ({"person": "0", "code": "7391"}, "Choose who you are."),
            ({"person": "٣", "code": "7391"}, "not in the list"),
            ({"person": "9" * 40, "code": "7391"}, "not in the list"),
            ({}, "Choose who you are."),
        ],
    )
    def test_what_is_missing_is_said(self, tablet: Client, mechanic: User, sent: dict[str, str], said: str) -> None:
        response = tablet.post(reverse(CHANGE), sent)
        assertContains(response, said, status_code=422)
        assert signed_in(tablet) is None

    def test_who_left_since_the_page_was_opened_is_told_so(self, tablet: Client, owner: User, mechanic: User) -> None:
        set_active(member=mechanic, active=False, by=owner)
        assert change(tablet, mechanic, "7391") == f"{mechanic} does not sign in here any more."
        assertNotContains(tablet.get(reverse(CHANGE)), str(mechanic))
        set_active(member=mechanic, active=True, by=owner)
        assert "has no short code now" in change(tablet, mechanic, "7391")  # they set a new one

    def test_whose_code_was_taken_away_meanwhile_is_told_so(self, tablet: Client, mechanic: User) -> None:
        forget_code(user=mechanic)
        said = f"{mechanic} has no short code now. Sign in with the password, and set one."
        assert change(tablet, mechanic, "7391") == said

    def test_a_new_first_password_ends_the_code(self, tablet: Client, mechanic: User) -> None:
        set_new_password(member=mechanic)
        assert "has no short code now" in change(tablet, mechanic, "7391")

    def test_somebody_of_another_shop_is_nobody_here(self, tablet: Client) -> None:
        stranger = UserFactory(mechanic=True)
        set_code(user=stranger, code="9173")
        assert change(tablet, stranger, "9173") == "Choose who you are."
        assert signed_in(tablet) is None

    def test_without_a_device_a_code_opens_nothing(self, client: Client, mechanic: User) -> None:
        response = client.post(reverse(CHANGE), {"person": mechanic.pk, "code": "7391"})
        assertContains(response, "This device is not let in", status_code=422)
        assert signed_in(client) is None


class TestADeviceThatWasEnded:
    def test_signs_out_whoever_is_on_it_and_says_why(self, tablet: Client, owner: User, mechanic: User) -> None:
        change(tablet, mechanic, "7391")
        office = Client()
        office.force_login(owner)
        for said in ("is ended: nobody is signed in", "was ended already"):
            response = office.post(reverse("office:device_end", args=[device().pk]), follow=True)
            assertContains(response, said)
        assert tablet.get(reverse("bench:board")).status_code == 302
        assertContains(tablet.get(reverse("sign_in")), "An owner ended this device")
        response = tablet.post(reverse(CHANGE), {"person": mechanic.pk, "code": "7391"})
        assertContains(response, "This device was ended", status_code=422)

    def test_meanwhile_is_noticed_under_the_lock(self, tablet: Client, owner: User, mechanic: User) -> None:
        opened = device()
        end(device=opened, by=owner)
        with pytest.raises(QuickCodeRefused, match="This device was ended meanwhile"):
            person_by_code(device=opened, user_pk=mechanic.pk, typed="7391")

    def test_ends_a_session_by_password_too_and_lets_it_begin_anew(self, tablet: Client, owner: User) -> None:
        tablet.post(reverse("sign_in"), {"username": owner.username, "password": PASSWORD, "next": ""})
        assert tablet.get(reverse("office:overview")).status_code == 200
        end(device=device(), by=owner)
        assert tablet.get(reverse("office:overview")).status_code == 302
        tablet.post(reverse("sign_in"), {"username": owner.username, "password": PASSWORD, "next": ""})
        assert tablet.get(reverse("office:overview")).status_code == 200


class TestTheOffice:
    def test_a_code_has_the_rights_of_the_roles_but_not_the_offices(self, tablet: Client, owner: User) -> None:
        change(tablet, owner, CODE)
        seen = tablet.get(reverse("counter:today")).context["user"]
        assert seen.rights == owner.rights - OFFICE_RIGHTS
        assert {Right.WORK_AT_BENCH, Right.WRITE_AT_COUNTER, Right.ENTER_SPECS} <= seen.rights

    @pytest.mark.parametrize(
        "name",
        [
            *("office:overview", "office:staff", "office:devices", "office:prices", "office:shop_settings"),
            *("office:privacy", "office:specs_export", "stores:export_parts", "stores:export_orders"),
            *("change_password", "second_factor", "own_code", "office:system", "office:moving"),
        ],
    )
    def test_asks_for_the_password_first_and_opens_after_it(self, tablet: Client, owner: User, name: str) -> None:
        change(tablet, owner, CODE)
        asked = tablet.get(reverse(name))
        assert asked.status_code == 302
        assert asked["Location"].startswith(reverse("give_password") + "?next=")
        assertContains(tablet.get(asked["Location"]), "came in by a short code")
        given = tablet.post(reverse("give_password"), {"password": PASSWORD, "next": reverse(name)})
        assertRedirects(given, reverse(name), fetch_redirect_response=False)
        assert tablet.get(reverse(name)).status_code == 200

    def test_what_is_sent_there_is_not_done(self, tablet: Client, owner: User, mechanic: User) -> None:
        change(tablet, owner, CODE)
        response = tablet.post(reverse("office:staff_password", args=[mechanic.pk]))
        assertContains(response, "Your password first", status_code=403)
        asked = tablet.get(reverse("office:overview"), headers={"HX-Request": "true"})
        assert asked["HX-Redirect"] == reverse("give_password")
        mechanic.refresh_from_db()
        assert not mechanic.must_change_password

    def test_a_wrong_password_is_said_and_counts_as_at_the_sign_in(
        self, tablet: Client, owner: User, settings: Settings
    ) -> None:
        change(tablet, owner, CODE)
        for _ in range(settings.AXES_FAILURE_LIMIT - 1):
            wrong = tablet.post(reverse("give_password"), {"password": "wrong", "next": ""})
            assertContains(wrong, "That is not your password.", status_code=422)
            change(tablet, owner, CODE)  # which forgives none of them
        assert tablet.post(reverse("give_password"), {"password": "wrong", "next": ""}).status_code == 429
        assert tablet.post(reverse("give_password"), {"password": PASSWORD, "next": ""}).status_code == 429
        assert tablet.get(reverse("office:overview")).status_code == 302

    def test_the_next_change_of_person_closes_it_again(self, tablet: Client, owner: User, mechanic: User) -> None:
        change(tablet, owner, CODE)
        tablet.post(reverse("give_password"), {"password": PASSWORD, "next": ""})
        change(tablet, owner, CODE)
        assert tablet.get(reverse("office:overview")).status_code == 302

    def test_the_password_is_not_asked_of_who_has_no_right_there(self, tablet: Client, mechanic: User) -> None:
        change(tablet, mechanic, "7391")
        assertContains(tablet.get(reverse("office:overview")), "That is not for your role", status_code=403)

    def test_a_second_factor_is_asked_for_besides(self, tablet: Client, owner: User) -> None:
        secret, step = new_secret(), step_at(timezone.now().timestamp())
        set_up_second_factor(user=owner, secret=secret, typed=code_at(secret, step - 1))
        assert change(tablet, owner, CODE) == ""
        given = tablet.post(reverse("give_password"), {"password": PASSWORD, "next": reverse("office:overview")})
        assertRedirects(given, reverse("second_step"), fetch_redirect_response=False)
        assert tablet.get(reverse("office:overview")).status_code == 302
        tablet.post(reverse("second_step"), {"code": code_at(secret, step)})
        assert tablet.get(reverse("office:overview")).status_code == 200

    def test_a_page_of_somewhere_else_is_not_opened_after_it(self, tablet: Client, owner: User) -> None:
        change(tablet, owner, CODE)
        given = tablet.post(reverse("give_password"), {"password": PASSWORD, "next": "https://elsewhere.example/"})
        assertRedirects(given, reverse("home"), fetch_redirect_response=False)


class TestGuessing:
    def test_a_person_waits_on_a_device_and_another_does_not(
        self, tablet: Client, owner: User, mechanic: User, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        for _ in range(MOST_WRONG - 1):
            assert "Try again." in change(tablet, mechanic, "0000")
        assert "Too many wrong codes for" in change(tablet, mechanic, "0000")
        assert "Too many wrong codes for" in change(tablet, mechanic, "7391")  # the right one has to wait, too
        assert change(tablet, owner, CODE) == ""
        WrongCode.objects.update(at=timezone.now() - WAIT - dt.timedelta(seconds=1))
        assert change(tablet, mechanic, "7391") == ""
        assert not WrongCode.objects.filter(user=mechanic).exists()

    def test_a_device_waits_whoever_is_tried(self, tablet: Client, owner: User, mechanic: User) -> None:
        others = [UserFactory(shop=owner.shop) for _ in range(MOST_WRONG_ON_DEVICE)]
        WrongCode.objects.bulk_create(WrongCode(device=device(), user=other, at=timezone.now()) for other in others)
        assert change(tablet, mechanic, "7391").startswith("Too many wrong codes on this device.")

    def test_after_many_wrong_ones_anywhere_the_code_is_off(self, tablet: Client, mechanic: User) -> None:
        long_ago = timezone.now() - dt.timedelta(days=2)
        WrongCode.objects.bulk_create(
            WrongCode(device=device(), user=mechanic, at=long_ago) for _ in range(MOST_WRONG_ANYWHERE - 1)
        )
        assert "is off. Sign in with the password" in change(tablet, mechanic, "0000")
        assert "has no short code now" in change(tablet, mechanic, "7391")
        assert not QuickCode.objects.filter(user=mechanic).exists()


class TestOnesOwnCode:
    @pytest.fixture
    def own(self, client: Client) -> Client:
        client.force_login(UserFactory(mechanic=True, with_password=True))
        return client

    def test_is_set_changed_and_taken_away_by_oneself(self, own: Client) -> None:
        for code in ("2580", "4711"):
            own.post(reverse("own_code"), {"code": code, "again": code})
            kept = QuickCode.objects.get()
            assert code not in kept.hashed
            assert identify_hasher(kept.hashed).algorithm == identify_hasher(known(kept.user).password).algorithm
            assertContains(own.get(reverse("second_factor")), "Short code: set")
        for _ in range(2):
            assertRedirects(own.post(reverse("own_code_off")), reverse("second_factor"))
        assert not QuickCode.objects.exists()

    @pytest.mark.parametrize(
        ("code", "again", "said"),
        [
            ("123", "123", "Enter 4 to 8 digits"),
            ("258025802", "258025802", "Enter 4 to 8 digits"),
            ("25x0", "25x0", "Enter 4 to 8 digits"),
            ("٢٥٨٠", "٢٥٨٠", "Enter 4 to 8 digits"),
            ("1234", "1234", "the first anybody tries"),
            ("8765", "8765", "the first anybody tries"),
            ("0000", "0000", "the first anybody tries"),
            ("2580", "2581", "The two are not the same."),
            ("", "", "Enter this."),
        ],
    )
    def test_one_that_will_not_do_is_refused_with_its_reason(
        self, own: Client, code: str, again: str, said: str
    ) -> None:
        response = own.post(reverse("own_code"), {"code": code, "again": again})
        assertContains(response, said, status_code=422)
        assert not QuickCode.objects.exists()


class TestAPageOfSomebodyElse:
    """A tab was left open, and somebody else is signed in by now: nothing is done under their name."""

    @pytest.fixture
    def stale(self, owner: User, mechanic: User, tablet: Client) -> Callable[[], User]:
        def change_over() -> User:
            change(tablet, owner, CODE)
            return mechanic

        return change_over

    def test_a_form_is_not_taken(self, tablet: Client, owner: User, stale: Callable[[], User]) -> None:
        ticket = TicketFactory(shop=owner.shop, number=7)
        sent = {"what": "no_answer", "page_person": stale().pk}
        response = tablet.post(reverse("counter:add_contact", args=[7]), sent)
        assertContains(response, "Somebody else is signed in here now", status_code=401)
        assert not ticket.contacts.exists()
        tablet.post(reverse("counter:add_contact", args=[7]), sent | {"page_person": owner.pk})
        assert ticket.contacts.exists()

    def test_a_script_is_told_and_keeps_what_it_has(
        self, tablet: Client, owner: User, stale: Callable[[], User]
    ) -> None:
        former = stale()
        headers = {"HX-Request": "true", "X-Person": str(former.pk)}
        response = tablet.post(reverse("counter:add_contact", args=[7]), headers=headers)
        assertContains(response, "is signed in on this device now", status_code=401)
        own = tablet.get(reverse("counter:today"), headers={"X-Person": str(owner.pk)})
        assert own.status_code == 200


def test_a_change_of_person_asks_as_much_with_many_people_as_with_few(
    tablet: Client, owner: User, django_assert_num_queries: Callable[..., object]
) -> None:
    tablet.get(reverse(CHANGE))
    with django_assert_num_queries(2) as asked:  # type: ignore[attr-defined]
        tablet.get(reverse(CHANGE))
    for _ in range(5):
        set_code(user=UserFactory(shop=owner.shop), code="9173")
    with django_assert_num_queries(len(asked)):  # type: ignore[attr-defined]
        tablet.get(reverse(CHANGE))


def test_devices_of_two_shops_may_have_the_same_name(tablet: Client) -> None:
    other = UserFactory(shop=ShopFactory(), owner=True)
    elsewhere = Client()
    elsewhere.force_login(other)
    assert elsewhere.post(reverse("office:devices"), {"name": "Bench tablet"}).status_code == 302
    assert Device.objects.count() == 2
