"""The second factor: set up with code and password, asked for at each sign-in, each code once."""

from __future__ import annotations

import datetime as dt
import re
import time
from typing import TYPE_CHECKING, NamedTuple

import pytest
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pytest_django import DjangoAssertNumQueries, Settings
from pytest_django.asserts import assertContains, assertNotContains, assertRedirects

from tests.factories import PASSWORD, UserFactory
from tests.known import known
from workshop.models import RecoveryCode, SecondFactor, User
from workshop.staff.one_time_codes import STEP_S, code_at, new_secret, step_at
from workshop.staff.second_factor import (
    MOST_WRONG,
    RECOVERY_CODES,
    WAIT_MINUTES,
    CodeRefused,
    set_up_second_factor,
    use_code,
)

if TYPE_CHECKING:
    from django.test.client import _MonkeyPatchedWSGIResponse as Answer

pytestmark = pytest.mark.django_db
NOW = dt.datetime(2026, 11, 25, 9, 0, 10, tzinfo=dt.UTC)


class Clock:
    """The clock of the shop and of the phone, moved by hand."""

    def __init__(self) -> None:
        self.now = NOW

    def __call__(self) -> dt.datetime:
        return self.now

    def wait(self, seconds: float) -> None:
        self.now += dt.timedelta(seconds=seconds)

    def code(self, secret: str) -> str:
        return code_at(secret, step_at(self.now.timestamp()))


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    clock = Clock()
    monkeypatch.setattr(timezone, "now", clock)
    return clock


@pytest.fixture
def owner() -> User:
    return UserFactory(owner=True, with_password=True)


class SetUp(NamedTuple):
    secret: str
    codes: list[str]


@pytest.fixture
def set_up_owner(owner: User, clock: Clock) -> SetUp:
    """Set up, and the first code is over."""
    secret = new_secret()
    codes = set_up_second_factor(user=owner, secret=secret, typed=clock.code(secret))
    clock.wait(STEP_S)
    return SetUp(secret, codes)


@pytest.fixture
def secret(set_up_owner: SetUp) -> str:
    return set_up_owner.secret


@pytest.fixture
def codes(set_up_owner: SetUp) -> list[str]:
    return set_up_owner.codes


def sign_in(client: Client, user: User, next_page: str = "") -> Answer:
    return client.post(reverse("sign_in"), {"username": user.username, "password": PASSWORD, "next": next_page})


def send_code(client: Client, code: str) -> Answer:
    return client.post(reverse("second_step"), {"code": code})


def is_in(client: Client) -> bool:
    return "_auth_user_id" in client.session


def test_set_up_takes_the_code_and_the_password(client: Client, owner: User, clock: Clock) -> None:
    client.force_login(owner)
    page = client.get(reverse("second_factor")).content.decode()
    key = known(re.search(r"<code>([A-Z2-7 ]+)</code>", page))[1].replace(" ", "")
    answer = client.post(reverse("second_factor"), {"code": clock.code(key), "password": PASSWORD})
    codes = re.findall(r"<code>([a-z0-9-]{19})</code>", answer.content.decode())
    assert len(set(codes)) == RECOVERY_CODES
    assert "no-store" in answer["Cache-Control"]
    assertNotContains(client.get(reverse("second_factor")), codes[0])
    kept = set(RecoveryCode.objects.values_list("digest", flat=True))
    assert len(kept) == RECOVERY_CODES
    assert kept.isdisjoint(codes)
    assert SecondFactor.objects.get().secret == key


@pytest.mark.parametrize(
    ("sent", "said"),
    [
        ({"code": "000000"}, "not the code the app shows now"),
        ({"password": "wrong"}, "not your password"),
        ({"code": ""}, "Enter this."),
    ],
)
def test_without_one_of_them_nothing_is_set_up_and_the_key_stays(
    client: Client, owner: User, clock: Clock, sent: dict[str, str], said: str
) -> None:
    client.force_login(owner)
    client.get(reverse("second_factor"))
    key = client.session["new_second_factor"]
    answer = client.post(reverse("second_factor"), {"code": clock.code(key), "password": PASSWORD} | sent)
    assertContains(answer, said, status_code=422)
    assert client.session["new_second_factor"] == key
    assert not SecondFactor.objects.exists()


def test_the_password_alone_signs_nobody_in(client: Client, owner: User, secret: str, clock: Clock) -> None:
    assertRedirects(sign_in(client, owner, "/bench/"), reverse("second_step"))
    assert not is_in(client)
    assertRedirects(client.get("/bench/"), reverse("sign_in") + "?next=/bench/", fetch_redirect_response=False)
    assertRedirects(send_code(client, clock.code(secret)), "/bench/", fetch_redirect_response=False)
    assert is_in(client)


def test_a_page_of_somebody_else_is_not_opened_after_the_code(
    client: Client, owner: User, secret: str, clock: Clock
) -> None:
    sign_in(client, owner, "https://elsewhere.example/")
    assertRedirects(send_code(client, clock.code(secret)), reverse("home"), fetch_redirect_response=False)


def test_a_code_counts_once(client: Client, owner: User, secret: str, clock: Clock) -> None:
    code = clock.code(secret)
    use_code(user=owner, typed=code)
    sign_in(client, owner)
    assertContains(send_code(client, code), "used already", status_code=422)
    assert not is_in(client)


def test_the_code_of_setting_up_is_used_already(owner: User, clock: Clock) -> None:
    secret = new_secret()
    set_up_second_factor(user=owner, secret=secret, typed=clock.code(secret))
    with pytest.raises(CodeRefused, match="used already"):
        use_code(user=owner, typed=clock.code(secret))


def test_an_older_code_does_not_count_after_a_newer_one(owner: User, secret: str, clock: Clock) -> None:
    older = clock.code(secret)
    clock.wait(STEP_S)
    use_code(user=owner, typed=clock.code(secret))
    with pytest.raises(CodeRefused, match="used already"):
        use_code(user=owner, typed=older)


def test_six_wrong_codes_and_even_the_right_one_waits(client: Client, owner: User, secret: str, clock: Clock) -> None:
    sign_in(client, owner)
    for _ in range(MOST_WRONG):
        assertContains(send_code(client, "000000"), "not right", status_code=422)
    assertContains(send_code(client, clock.code(secret)), "Too many wrong codes", status_code=422)
    clock.wait(WAIT_MINUTES * 60 + 1)
    use_code(user=owner, typed=clock.code(secret))


def test_a_recovery_code_lets_in_once_however_it_is_typed(client: Client, owner: User, codes: list[str]) -> None:
    sign_in(client, owner)
    typed = codes[0].upper().replace("-", " ")
    assertRedirects(send_code(client, typed), reverse("home"), fetch_redirect_response=False)
    with pytest.raises(CodeRefused, match="not right"):
        use_code(user=owner, typed=codes[0])
    use_code(user=owner, typed=codes[1])


def test_a_recovery_code_is_only_its_owners(codes: list[str], clock: Clock) -> None:
    other = UserFactory(owner=True)
    other_secret = new_secret()
    set_up_second_factor(user=other, secret=other_secret, typed=clock.code(other_secret))
    with pytest.raises(CodeRefused):
        use_code(user=other, typed=codes[0])


@pytest.mark.parametrize("change", ["late", "shut out", "new password"])
def test_a_right_password_waits_for_its_code_only_a_while(
    client: Client, owner: User, secret: str, clock: Clock, change: str
) -> None:
    sign_in(client, owner)
    if change == "late":
        clock.wait(301)
    if change == "shut out":
        User.objects.filter(pk=owner.pk).update(is_active=False)
    if change == "new password":
        owner.set_password("three forks on a green wall")
        owner.save()
    assertRedirects(send_code(client, clock.code(secret)), reverse("sign_in"))
    assert not is_in(client)


def test_nobody_comes_in_by_the_second_step_alone(client: Client, secret: str, clock: Clock) -> None:
    assertRedirects(send_code(client, clock.code(secret)), reverse("sign_in"))
    assert not is_in(client)


def test_it_comes_off_with_code_and_password(client: Client, owner: User, secret: str, clock: Clock) -> None:
    client.force_login(owner)
    off = reverse("second_factor_off")
    assertContains(client.post(off, {"code": "000000", "password": PASSWORD}), "not right", status_code=422)
    assertContains(
        client.post(off, {"code": clock.code(secret), "password": "x"}), "not your password", status_code=422
    )
    assertRedirects(client.post(off, {"code": clock.code(secret), "password": PASSWORD}), reverse("second_factor"))
    assert not SecondFactor.objects.exists()
    assert sign_in(Client(), owner)["Location"] == reverse("home")


def test_a_shop_that_asks_for_it_opens_to_its_owners_only_with_it(client: Client, owner: User, clock: Clock) -> None:
    known(owner.shop).owners_need_second_factor = True
    known(owner.shop).save()
    client.force_login(owner)
    assertRedirects(client.get(reverse("office:overview")), reverse("second_factor"))
    htmx = client.get(reverse("office:overview"), headers={"HX-Request": "true"})
    assert htmx.headers["HX-Redirect"] == reverse("second_factor")
    key = client.session["new_second_factor"]
    client.post(reverse("second_factor"), {"code": clock.code(key), "password": PASSWORD})
    assert client.get(reverse("office:overview")).status_code == 200
    clock.wait(STEP_S)
    off = client.post(reverse("second_factor_off"), {"code": clock.code(key), "password": PASSWORD})
    assertContains(off, "asks its owners for a second factor", status_code=422)
    client.force_login(UserFactory(shop=owner.shop, mechanic=True))
    assert client.get(reverse("bench:board")).status_code == 200


def test_another_owner_takes_it_off_for_whoever_lost_the_phone(client: Client, owner: User, secret: str) -> None:
    client.force_login(UserFactory(shop=owner.shop, owner=True))
    assertContains(client.get(reverse("office:staff_member", args=[owner.pk])), "Remove")
    client.post(reverse("office:staff_second_factor_off", args=[owner.pk]))
    assert not SecondFactor.objects.exists()


def test_ones_own_does_not_come_off_in_the_office(client: Client, owner: User, secret: str) -> None:
    client.force_login(owner)
    client.post(reverse("office:staff_second_factor_off", args=[owner.pk]))
    assert SecondFactor.objects.exists()


def test_let_in_opens_for_whoever_lost_everything(
    client: Client, owner: User, settings: Settings, capsys: pytest.CaptureFixture[str]
) -> None:
    secret = new_secret()
    set_up_second_factor(user=owner, secret=secret, typed=code_at(secret, step_at(time.time())))
    for _ in range(settings.AXES_FAILURE_LIMIT):
        locked = client.post(reverse("sign_in"), {"username": owner.username, "password": "wrong"})
    assertContains(locked, "manage.py let_in NAME", status_code=429)
    call_command("let_in", owner.username.upper())
    password = known(re.search(r"password (\S+)", capsys.readouterr().out))[1]
    answer = client.post(reverse("sign_in"), {"username": owner.username, "password": password})
    assert answer.status_code == 302
    assertRedirects(client.get(reverse("home")), reverse("change_password"))
    with pytest.raises(CommandError, match="Nobody signs in"):
        call_command("let_in", "nobody")


def test_a_new_password_from_the_owner_ends_a_lock_out(client: Client, owner: User, settings: Settings) -> None:
    clerk = UserFactory(shop=owner.shop, with_password=True)
    for _ in range(settings.AXES_FAILURE_LIMIT):
        client.post(reverse("sign_in"), {"username": clerk.username, "password": "wrong"})
    office = Client()
    office.force_login(owner)
    office.post(reverse("office:staff_password", args=[clerk.pk]))
    User.objects.get(pk=clerk.pk)
    assert client.post(reverse("sign_in"), {"username": clerk.username, "password": "wrong"}).status_code == 200


def test_sessions_end_when_somebody_is_shut_out_or_gets_a_new_password(owner: User) -> None:
    office = Client()
    office.force_login(owner)
    for route, sent in (("staff_active", {"active": "0"}), ("staff_password", {})):
        clerk = UserFactory(shop=owner.shop)
        desk = Client()
        desk.force_login(clerk)
        assert desk.get(reverse("counter:today")).status_code == 200
        office.post(reverse(f"office:{route}", args=[clerk.pk]), sent)
        assert desk.get(reverse("counter:today")).status_code == 302


def test_ones_other_sessions_end_with_the_old_password(client: Client, owner: User) -> None:
    elsewhere = Client()
    for browser in (client, elsewhere):
        browser.force_login(owner)
    new = "three forks on a green wall"
    client.post(reverse("change_password"), {"old_password": PASSWORD, "new_password1": new, "new_password2": new})
    assert client.get(reverse("office:overview")).status_code == 200
    assert elsewhere.get(reverse("office:overview")).status_code == 302


def test_staff_page_keeps_its_number_of_queries(
    client: Client, owner: User, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    UserFactory.create_batch(12, shop=owner.shop)
    client.force_login(owner)
    with django_assert_max_num_queries(6):
        client.get(reverse("office:staff"))
