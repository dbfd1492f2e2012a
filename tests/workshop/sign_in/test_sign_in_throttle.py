"""The wider limits on failed sign-ins: of an address over all names, and of a name over all addresses."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import pytest
from axes.models import AccessAttempt, AccessLog
from django.contrib.auth.hashers import get_hasher
from django.core.management import call_command
from django.db.models import F
from django.test import Client, RequestFactory
from django.urls import reverse
from django.utils import timezone
from pytest_django import Settings
from pytest_django.asserts import assertContains

from tests.factories import PASSWORD, UserFactory
from tests.squeezed import squeezed
from workshop.models import User
from workshop.staff.address import throttled_address
from workshop.staff.throttle import KNOWN_FOR, Wait

if TYPE_CHECKING:
    from django.test.client import _MonkeyPatchedWSGIResponse as Answer

pytestmark = pytest.mark.django_db
SHOP, ELSEWHERE = "192.0.2.7", "198.51.100.7"


def sign_in(username: str, password: str, address: str, **extra: Any) -> Answer:
    form = {"username": username, "password": password, "next": ""}
    return Client().post(reverse("sign_in"), form, REMOTE_ADDR=address, **extra)


def test_every_sign_in_and_every_wrong_try_is_kept_with_name_address_and_time() -> None:
    user = UserFactory(with_password=True)
    before = timezone.now()
    for _ in range(2):
        sign_in(user.username, PASSWORD, SHOP)
    sign_in(user.username, "wrong", ELSEWHERE)
    kept = list(AccessLog.objects.order_by("pk").values_list("username", "ip_address"))
    assert kept == [(user.username, SHOP)] * 2
    assert AccessLog.objects.filter(attempt_time__gte=before).count() == 2
    tried = AccessAttempt.objects.get()
    assert (tried.username, tried.ip_address, tried.failures_since_start) == (user.username, ELSEWHERE, 1)
    assert tried.attempt_time >= before


def is_in(user: User, address: str) -> bool:
    return sign_in(user.username, PASSWORD, address).status_code == 302


def fail_with_many_names(address: str, times: int) -> list[int]:
    return [sign_in(f"made-up-{n}", "wrong", address).status_code for n in range(times)]


def fail_from_many_addresses(username: str, times: int) -> list[int]:
    return [sign_in(username, "wrong", f"203.0.113.{n}").status_code for n in range(times)]


def let_time_pass(wait: dt.timedelta) -> None:
    AccessAttempt.objects.update(attempt_time=F("attempt_time") - wait)
    AccessLog.objects.update(attempt_time=F("attempt_time") - wait)


@pytest.fixture
def user() -> User:
    return UserFactory(with_password=True)


@pytest.fixture
def few(settings: Settings) -> None:
    """Fewer tries than a shop has, for the sake of time."""
    settings.SIGN_IN_FAILURES_OF_ADDRESS = settings.SIGN_IN_FAILURES_OF_NAME = 8


def test_many_names_from_one_address_are_slowed(user: User, settings: Settings) -> None:
    allowed = settings.SIGN_IN_FAILURES_OF_ADDRESS
    assert fail_with_many_names(SHOP, allowed + 2) == [200] * allowed + [429] * 2
    assert AccessAttempt.objects.count() == allowed
    answer = sign_in(user.username, PASSWORD, SHOP)
    assertContains(answer, "from this network", status_code=429)
    assert answer.status_code == 429
    assert "Try again in 15 minutes" in squeezed(answer.text)
    assert is_in(user, ELSEWHERE)


def test_another_browser_is_no_other_address(user: User, few: None) -> None:
    for n in range(8):
        sign_in(f"made-up-{n % 2}", "wrong", SHOP, HTTP_USER_AGENT=f"browser {n}")
    assert not is_in(user, SHOP)


def test_the_few_mistakes_of_one_person_do_not_stop_a_colleague(user: User, settings: Settings) -> None:
    colleague = UserFactory(with_password=True, shop=user.shop)
    for _ in range(settings.AXES_FAILURE_LIMIT):
        sign_in(user.username, "wrong", SHOP)
    assert is_in(colleague, SHOP)
    assert not is_in(user, SHOP)


def test_tries_while_waiting_do_not_use_up_what_the_address_has(user: User, few: None) -> None:
    colleague = UserFactory(with_password=True, shop=user.shop)
    for _ in range(12):
        sign_in(user.username, "wrong", SHOP)
    assert is_in(colleague, SHOP)


def test_whoever_signed_in_here_lately_is_not_held_up_by_others(user: User, few: None, settings: Settings) -> None:
    assert is_in(user, SHOP)
    fail_with_many_names(SHOP, 8)
    assert not is_in(UserFactory(with_password=True), SHOP)
    assert is_in(user, SHOP)
    for _ in range(settings.AXES_FAILURE_LIMIT):
        answer = sign_in(user.username, "wrong", SHOP)
    assertContains(answer, "from this network", status_code=429)
    assert not is_in(user, SHOP)  # its few tries are over


def test_signing_in_long_ago_counts_no_more_and_is_forgotten(user: User, few: None) -> None:
    assert is_in(user, SHOP)
    let_time_pass(KNOWN_FOR + dt.timedelta(hours=1))
    fail_with_many_names(SHOP, 8)
    assert not is_in(user, SHOP)
    assert is_in(user, ELSEWHERE)
    assert AccessLog.objects.get().ip_address == ELSEWHERE


def test_a_right_sign_in_does_not_forget_what_others_did_at_that_address(user: User, few: None) -> None:
    fail_with_many_names(SHOP, 7)
    assert is_in(user, SHOP)
    assert fail_with_many_names(SHOP, 2) == [200, 429]


def test_a_name_tried_from_many_addresses_is_slowed_where_it_is_new(user: User, few: None) -> None:
    assert is_in(user, SHOP)
    assert fail_from_many_addresses(user.username, 10) == [200] * 8 + [429] * 2
    answer = sign_in(user.username, PASSWORD, ELSEWHERE)
    assertContains(answer, "from several places", status_code=429)
    assert is_in(user, SHOP)  # nobody shuts the owner out of the shop by trying the owner's name elsewhere
    assert is_in(UserFactory(with_password=True), ELSEWHERE)


@pytest.mark.parametrize("fail", [fail_with_many_names, fail_from_many_addresses])
def test_the_wait_ends_with_time_and_says_how_long(
    user: User, few: None, fail: Callable[[str, int], list[int]], settings: Settings
) -> None:
    fail(SHOP if fail is fail_with_many_names else user.username, 8)
    let_time_pass(dt.timedelta(minutes=10))
    answer = sign_in(user.username, PASSWORD, SHOP)
    assert answer.status_code == 429
    assert "Try again in 5 minutes" in squeezed(answer.text)
    let_time_pass(dt.timedelta(minutes=5))
    assert is_in(user, SHOP)


def test_the_wait_ends_when_enough_tries_are_old(user: User, few: None) -> None:
    fail_with_many_names(SHOP, 1)
    let_time_pass(dt.timedelta(minutes=12))
    for n in range(7):
        sign_in(f"other-{n}", "wrong", SHOP)
    answer = sign_in(user.username, PASSWORD, SHOP)
    assert answer.status_code == 429
    assert "Try again in 3 minutes" in squeezed(answer.text)


@pytest.mark.usefixtures("few")
def test_let_in_ends_every_wait(user: User) -> None:
    fail_with_many_names(SHOP, 8)
    call_command("let_in", user.username)
    user.refresh_from_db()
    user.set_password(PASSWORD)
    user.save()
    assert is_in(user, SHOP)


def test_behind_a_proxy_it_is_the_address_that_the_proxy_saw(user: User, few: None, settings: Settings) -> None:
    settings.BEHIND_PROXY = True
    for n in range(8):
        sign_in(f"made-up-{n}", "wrong", "127.0.0.1", HTTP_X_FORWARDED_FOR=f"203.0.113.{n}, {SHOP}")
    form = (user.username, PASSWORD, "127.0.0.1")
    assert sign_in(*form, HTTP_X_FORWARDED_FOR=f"203.0.113.1, {SHOP}").status_code == 429
    assert sign_in(*form, HTTP_X_FORWARDED_FOR=f"203.0.113.1, {ELSEWHERE}").status_code == 302


@pytest.mark.parametrize(
    ("address", "counted"),
    [
        ("192.0.2.7", "192.0.2.7"),
        ("2001:db8:1:2:3:4:5:6", "2001:db8:1:2::"),
        ("2001:db8:1:2::9", "2001:db8:1:2::"),
        ("2001:db8:1:3::9", "2001:db8:1:3::"),
        ("::ffff:192.0.2.7", "192.0.2.7"),
        ("", ""),
    ],
)
def test_an_ipv6_line_counts_as_one_address(rf: RequestFactory, address: str, counted: str) -> None:
    assert throttled_address(rf.get("/", REMOTE_ADDR=address)) == counted


def test_the_page_of_a_wait_that_has_just_ended_says_so(user: User, few: None, monkeypatch: pytest.MonkeyPatch) -> None:
    fail_with_many_names(SHOP, 8)
    monkeypatch.setattr("workshop.staff.throttle.wait_of", _once_then_never())
    assertContains(sign_in(user.username, PASSWORD, SHOP), "The wait is over", status_code=429)


def test_at_an_address_that_waits_a_wrong_password_tells_nothing_of_the_name(user: User, few: None) -> None:
    """Whoever signed in here lately may still come in, and nobody else can find out who that is."""
    assert is_in(user, SHOP)
    fail_with_many_names(SHOP, 8)
    for _ in range(8):  # beyond the few tries of a name, too
        of_one_that_is = sign_in(user.username, "wrong", SHOP)
        of_none = sign_in("made-up-never-there", "wrong", SHOP)
        assert (of_one_that_is.status_code, of_none.status_code) == (429, 429)
        assert without_names(of_one_that_is) == without_names(of_none)
        assert set(of_one_that_is.headers) == set(of_none.headers)


def test_a_name_that_waits_elsewhere_tells_nothing_either(user: User, few: None) -> None:
    """A name tried from everywhere: where it signed in lately, a wrong password is answered as where it is new."""
    assert is_in(user, SHOP)
    fail_from_many_addresses(user.username, 8)
    fail_from_many_addresses("made-up", 8)
    assert without_names(sign_in(user.username, "wrong", SHOP)) == without_names(sign_in("made-up", "wrong", SHOP))
    assert is_in(user, SHOP)


def test_wrong_tries_of_a_known_name_do_not_lengthen_the_wait_of_the_address(user: User, few: None) -> None:
    """Else the minutes would tell which names are known here."""
    assert is_in(user, SHOP)
    for number in range(8):
        sign_in(f"made-up-{number}", "wrong", SHOP)
        let_time_pass(dt.timedelta(minutes=1))
    before = sign_in("made-up", "wrong", SHOP).text
    for _ in range(4):
        sign_in(user.username, "wrong", SHOP)
    assert re.findall(r"\d+\s+minute", sign_in("made-up", "wrong", SHOP).text) == re.findall(r"\d+\s+minute", before)
    assert is_in(user, SHOP)


def test_every_try_at_an_address_that_waits_takes_the_work_of_one_password(
    user: User, few: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Else the time would tell who is known here: a password is checked for them alone."""
    assert is_in(user, SHOP)
    fail_with_many_names(SHOP, 8)
    hashed: list[str] = []
    hasher = type(get_hasher())

    def counted(self: Any, password: str, *rest: Any) -> str:
        hashed.append(password)
        return "md5$x$y"

    def wrong(self: Any, password: str, encoded: str) -> bool:
        hashed.append(password)
        return False

    monkeypatch.setattr(hasher, "encode", counted)
    monkeypatch.setattr(hasher, "verify", wrong)
    for name in (user.username, "made-up-never-there", user.username):
        hashed.clear()
        assert sign_in(name, "wrong", SHOP).status_code == 429
        assert hashed == ["wrong"], name
    for _ in range(8):
        sign_in(user.username, "wrong", SHOP)
    hashed.clear()
    assert sign_in(user.username, "wrong", SHOP).status_code == 429  # its few tries are over: as slow as before
    assert hashed == ["wrong"]


def without_names(answer: Answer) -> str:
    """The page without what differs from one request to the next."""
    return re.sub(r"[A-Za-z0-9]{64}", "", answer.text)  # the tokens of forms


def _once_then_never() -> Callable[..., Wait | None]:
    answers = [Wait("address", 8, timezone.now())]
    return lambda *args: answers.pop() if answers else None
