"""Sessions: how long they last, where they are open, and that each can be ended."""

from __future__ import annotations

import datetime as dt

import pytest
from django.contrib.auth.models import AnonymousUser
from django.db import OperationalError, connection
from django.db.models import F
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from pytest_django import Settings

from tests.factories import PASSWORD, ShopFactory, UserFactory
from workshop.models import KnownBrowser, OpenSession, SecurityEvent, User
from workshop.staff.browser_words import browser_words
from workshop.staff.devices import let_device_in
from workshop.staff.open_sessions import end_session, end_sessions, sessions_of

pytestmark = pytest.mark.django_db
TABLET = "Mozilla/5.0 (Linux; Android 14; K) AppleWebKit/537.36 (KHTML, like Gecko) Safari/537.36"
DESK = "Mozilla/5.0 (X11; Linux x86_64; rv:128.0) Gecko/20100101"


@pytest.fixture
def user() -> User:
    return UserFactory(owner=True, with_password=True)


def sign_in(user: User, agent: str = DESK, client: Client | None = None) -> Client:
    client = client or Client(headers={"user-agent": agent})
    sent = {"username": user.username, "password": PASSWORD, "next": ""}
    assert client.post(reverse("sign_in"), sent).status_code == 302
    return client


def is_in(client: Client) -> bool:
    return client.get(reverse("second_factor")).status_code == 200


def let_time_pass(wait: dt.timedelta) -> None:
    """All that is kept of sessions is as much longer ago."""
    OpenSession.objects.update(
        **{name: F(name) - wait for name in ("expire_date", "began_at", "last_seen_at")},
    )


class TestIdle:
    def test_who_does_nothing_is_signed_out(self, user: User, settings: Settings) -> None:
        settings.IDLE_MINUTES = 60
        client = sign_in(user)
        let_time_pass(dt.timedelta(minutes=59))
        assert is_in(client)  # and that was something
        let_time_pass(dt.timedelta(minutes=59))
        assert is_in(client)
        let_time_pass(dt.timedelta(minutes=61))
        assert not is_in(client)

    def test_sooner_on_a_device_that_is_shared(self, user: User, settings: Settings) -> None:
        settings.IDLE_MINUTES, settings.IDLE_MINUTES_SHARED = 480, 30
        client = sign_in(user)
        sent = {"name": "Bench tablet"}
        assert client.post(reverse("office:devices"), sent).status_code == 302
        assert OpenSession.objects.get(user=user).device is not None
        let_time_pass(dt.timedelta(minutes=31))
        assert not is_in(client)

    def test_what_a_page_asks_by_itself_keeps_nobody_in(self, user: User, settings: Settings) -> None:
        settings.IDLE_MINUTES = 60
        client = sign_in(user)
        let_time_pass(dt.timedelta(minutes=40))
        client.get(reverse("bench:news", args=[1, 1]))
        let_time_pass(dt.timedelta(minutes=40))
        assert not is_in(client)

    def test_nobody_stays_in_for_ever(self, user: User, settings: Settings) -> None:
        client = sign_in(user)
        OpenSession.objects.update(began_at=timezone.now() - dt.timedelta(seconds=settings.SESSION_COOKIE_AGE - 60))
        OpenSession.objects.update(last_seen_at=timezone.now() - dt.timedelta(minutes=5))
        assert is_in(client)
        left = OpenSession.objects.get(user=user).expire_date - timezone.now()
        assert left < dt.timedelta(minutes=2)

    def test_a_page_asks_no_more_than_before_and_writes_once_a_minute(self, user: User) -> None:
        client = sign_in(user)
        client.get(reverse("office:staff"))
        with CaptureQueriesContext(connection) as again:
            client.get(reverse("office:staff"))
        assert not [query for query in again if query["sql"].startswith(("UPDATE", "INSERT"))]
        OpenSession.objects.update(last_seen_at=F("last_seen_at") - dt.timedelta(minutes=2))
        with CaptureQueriesContext(connection) as later:
            client.get(reverse("office:staff"))
        assert len([query for query in later if query["sql"].startswith("UPDATE")]) == 1


class TestTheList:
    def test_says_device_since_when_last_seen_and_address(self, user: User) -> None:
        here, _tablet = sign_in(user), sign_in(user, TABLET)
        page = here.get(reverse("second_factor")).text
        assert "Computer with Linux" in page
        assert "Tablet with Android" in page
        assert page.count("127.0.0.1") >= 2
        assert page.count("– this one") == 1
        keys = OpenSession.objects.filter(user=user).values_list("pk", flat=True)
        assert not [key for key in keys if key in page]  # a key opens its session

    def test_one_is_ended_by_oneself_and_the_rest_stays(self, user: User) -> None:
        here, tablet, desk = sign_in(user), sign_in(user, TABLET), sign_in(user)
        (mark,) = [one.mark for one in sessions_of(user) if "Tablet" in one.device]
        here.post(reverse("end_own_session"), {"mark": mark})
        assert (is_in(here), is_in(tablet), is_in(desk)) == (True, False, True)
        assert SecurityEvent.objects.filter(kind="sessions_ended").count() == 1
        here.post(reverse("end_own_session"), {"mark": mark})  # pressed twice
        assert SecurityEvent.objects.filter(kind="sessions_ended").count() == 1

    def test_all_others_are_ended_at_once(self, user: User) -> None:
        here, tablet, desk = sign_in(user), sign_in(user, TABLET), sign_in(user)
        here.post(reverse("end_own_session"))
        assert (is_in(here), is_in(tablet), is_in(desk)) == (True, False, False)

    def test_nobody_ends_what_is_not_theirs(self, user: User) -> None:
        other = UserFactory(shop=user.shop, with_password=True)
        theirs, here = sign_in(other), sign_in(user)
        (shown,) = sessions_of(other)
        here.post(reverse("end_own_session"), {"mark": shown.mark})
        assert is_in(theirs)
        assert not end_session(user, shown.mark)

    def test_an_owner_sees_and_ends_those_of_the_shop(self, user: User) -> None:
        mechanic = UserFactory(shop=user.shop, mechanic=True, with_password=True)
        first, second, here = sign_in(mechanic, TABLET), sign_in(mechanic), sign_in(user)
        assert "Tablet with Android" in here.get(reverse("office:staff_member", args=[mechanic.pk])).text
        (mark,) = [one.mark for one in sessions_of(mechanic) if "Tablet" in one.device]
        here.post(reverse("office:staff_sessions_end", args=[mechanic.pk]), {"mark": mark})
        assert (is_in(first), is_in(second)) == (False, True)
        here.post(reverse("office:staff_sessions_end", args=[mechanic.pk]))
        assert not is_in(second)
        assert is_in(here)

    def test_those_of_another_shop_are_out_of_reach(self, user: User) -> None:
        stranger = UserFactory(shop=ShopFactory(), with_password=True)
        theirs, here = sign_in(stranger), sign_in(user)
        assert here.post(reverse("office:staff_sessions_end", args=[stranger.pk])).status_code == 404
        assert is_in(theirs)

    def test_a_device_that_is_ended_takes_its_sessions_along(self, user: User) -> None:
        client = sign_in(user)
        client.post(reverse("office:devices"), {"name": "Bench tablet"})
        device = known_device(user)
        assert client.post(reverse("office:device_end", args=[device])).status_code == 302
        assert sessions_of(user) == []
        assert not is_in(client)

    def test_asks_as_much_for_many_as_for_few(self, user: User) -> None:
        here = sign_in(user)
        is_in(here)
        with CaptureQueriesContext(connection) as few:
            is_in(here)
        for _ in range(6):
            sign_in(user)
        user.refresh_from_db()
        User.objects.update(has_sign_in_news=False)
        with CaptureQueriesContext(connection) as many:
            is_in(here)
        assert len(many) == len(few)


def known_device(user: User) -> int:
    return int(user.shop.devices.get().pk) if user.shop else 0


class TestOtherSessionsEnd:
    def test_with_the_password(self, user: User) -> None:
        here, tablet = sign_in(user), sign_in(user, TABLET)
        new = "three forks on a green wall"
        here.post(reverse("change_password"), {"old_password": PASSWORD, "new_password1": new, "new_password2": new})
        assert (is_in(here), is_in(tablet)) == (True, False)
        assert [one.is_this for one in sessions_of(user, this=here.session.session_key)] == [True]

    def test_not_ones_own_by_the_page_of_staff_whose_password_nobody_would_read(self, user: User) -> None:
        here = sign_in(user)
        answer = here.post(reverse("office:staff_password", args=[user.pk]))
        assert answer.headers["Location"] == reverse("change_password")
        assert is_in(here)

    def test_when_an_owner_gives_a_new_one_or_shuts_out(self, user: User) -> None:
        for name, sent in (("office:staff_password", {}), ("office:staff_active", {"active": "0"})):
            mechanic = UserFactory(shop=user.shop, mechanic=True, with_password=True)
            theirs = sign_in(mechanic)
            sign_in(user).post(reverse(name, args=[mechanic.pk]), sent)
            assert not is_in(theirs)
            assert not OpenSession.objects.filter(user=mechanic).exists()


def test_a_database_that_goes_away_before_the_session_is_written_is_said_as_that(
    user: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Django takes any fault of the database there for a session that ended, and answers 400."""
    client = sign_in(user)
    client.raise_request_exception = False

    def away(*args: object, **kwargs: object) -> None:
        raise OperationalError("server closed the connection unexpectedly")

    with monkeypatch.context() as patch:
        patch.setattr(OpenSession, "save", away)
        answer = client.post(reverse("office:devices"), {"name": "Bench tablet"})
    assert answer.status_code == 503
    assert "The database does not answer" in answer.text


def test_rows_that_ran_out_go_at_the_next_sign_in(user: User) -> None:
    sign_in(user)
    OpenSession.objects.update(expire_date=timezone.now() - dt.timedelta(days=1))
    sign_in(user)
    assert OpenSession.objects.count() == 1


def test_a_session_of_before_somebody_signed_in_is_nobodys(client: Client, user: User) -> None:
    client.get(reverse("sign_in"))
    assert not OpenSession.objects.filter(user__isnull=False).exists()
    assert end_sessions(user) == 0
    assert not AnonymousUser().is_authenticated


@pytest.mark.parametrize(
    ("agent", "words"),
    [
        (DESK, "Computer with Linux"), (TABLET, "Tablet with Android"), ("", "Unknown device"),
        ("Mozilla/5.0 (Linux; Android 14; K) Mobile Safari/537.36", "Phone with Android"),
        ("<script>alert(1)</script>", "Unknown device"),
    ],
)  # fmt: skip
def test_a_device_in_words(agent: str, words: str) -> None:
    assert browser_words(agent) == words


class TestANewDevice:
    def test_is_told_on_the_next_page_of_another_and_written_down(self, user: User) -> None:
        here = sign_in(user)
        assert "device that was new" not in here.get(reverse("office:staff")).text  # the first of all is no news
        stranger = sign_in(user, TABLET)
        assert "device that was new" not in stranger.get(reverse("office:staff")).text  # who is there is not told
        page = here.get(reverse("office:staff")).text
        assert "Somebody signed in by your name on a device that was new" in page
        assert "Tablet with Android" in page
        assert "device that was new" not in here.get(reverse("office:staff")).text  # once
        assert list(SecurityEvent.objects.values_list("kind", "browser")) == [("signed_in_new", "Tablet with Android")]

    def test_waits_for_the_next_sign_in_on_a_known_one(self, user: User) -> None:
        here = sign_in(user)
        here.post(reverse("sign_out"))
        sign_in(user, TABLET)
        sign_in(user, client=here)
        assert "device that was new" in here.get(reverse("office:staff")).text

    def test_the_same_browser_again_is_no_news(self, user: User) -> None:
        here = sign_in(user)
        here.post(reverse("sign_out"))
        sign_in(user, client=here)
        assert KnownBrowser.objects.count() == 1
        assert not SecurityEvent.objects.exists()

    def test_is_told_by_mail_where_there_is_mail_and_an_address(
        self, user: User, settings: Settings, mailoutbox: list[object]
    ) -> None:
        settings.EMAIL_HOST, settings.DEFAULT_FROM_EMAIL = "mail.example", "shop@shop.example"
        user.email = "owner@shop.example"
        user.save()
        sign_in(user)
        assert not mailoutbox
        sign_in(user, TABLET)
        (letter,) = mailoutbox
        assert letter.to == ["owner@shop.example"]  # type: ignore[attr-defined]
        assert "Tablet with Android" in letter.body  # type: ignore[attr-defined]

    def test_a_mail_server_that_is_away_keeps_nobody_out(
        self, user: User, settings: Settings, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        settings.EMAIL_HOST, settings.DEFAULT_FROM_EMAIL = "mail.example", "shop@shop.example"
        User.objects.update(email="owner@shop.example")

        def away(*args: object, **options: object) -> None:
            raise OSError("no way there")

        monkeypatch.setattr("django.core.mail.backends.locmem.EmailBackend.send_messages", away)
        sign_in(user)
        assert is_in(sign_in(user, TABLET))


def test_a_device_let_in_by_function_is_listed_by_its_name(user: User) -> None:
    assert user.shop is not None
    device, _ = let_device_in(shop=user.shop, name="Bench tablet 2", by=user)
    sign_in(user)
    OpenSession.objects.filter(user=user).update(device=device)
    assert [one.device for one in sessions_of(user)] == ["Bench tablet 2"]
