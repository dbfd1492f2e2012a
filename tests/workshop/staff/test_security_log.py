"""The security log: who did what is written down, and a line that was changed, put in or taken out shows."""

from __future__ import annotations

import io

import pytest
from django.core.management import CommandError, call_command
from django.db import DatabaseError, connection, transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pytest_django.asserts import assertContains, assertNotContains

from tests.at_once import at_once
from tests.factories import ShopFactory, UserFactory
from workshop.models import SecurityEvent, Shop, User
from workshop.running.standing import standing_of_system
from workshop.staff import append_only
from workshop.staff.security_log import _WORDS, Did, WhereFrom, digest_of_event, note, standing_of_log, words_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner() -> User:
    return UserFactory(owner=True, with_password=True)


@pytest.fixture
def shop(owner: User) -> Shop:
    assert owner.shop is not None
    return owner.shop


@pytest.fixture
def lines(owner: User, shop: Shop) -> list[SecurityEvent]:
    return [
        note(shop=shop, did=Did.PASSWORD_RESET, by=owner, place=WhereFrom("192.0.2.7", "Tablet"), who=f"m{n} “ä”")
        for n in range(5)
    ]


def past_the_app(statement: str) -> None:
    """As somebody does with the database in hand, who takes the triggers away first."""
    append_only.remove()
    with connection.cursor() as cursor:
        cursor.execute(statement)
    append_only.install()


def test_an_untouched_chain_holds_from_its_first_line(lines: list[SecurityEvent], shop: Shop) -> None:
    assert lines[0].before == ""
    assert [line.number for line in lines] == [1, 2, 3, 4, 5]
    assert [line.before for line in lines[1:]] == [line.digest for line in lines[:-1]]
    assert standing_of_log(shop) == standing_of_log(shop, newest=100)
    assert (standing_of_log(shop).checked, standing_of_log(shop).wrong) == (5, None)
    assert (standing_of_log(shop, newest=2).checked, standing_of_log(shop, newest=2).wrong) == (2, None)


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE workshop_securityevent SET by_name = 'x' WHERE number = 3",
        "UPDATE workshop_securityevent SET address = '192.0.2.8' WHERE number = 3",
        "UPDATE workshop_securityevent SET kind = 'let_in' WHERE number = 3",
        "UPDATE workshop_securityevent SET at = '2026-01-01 00:00:00' WHERE number = 3",
        "UPDATE workshop_securityevent SET \"values\" = '{}' WHERE number = 3",
        "DELETE FROM workshop_securityevent WHERE number = 3",
        "UPDATE workshop_securityevent SET number = 99 WHERE number = 3",
    ],
)
def test_a_line_that_was_changed_or_taken_out_shows(lines: list[SecurityEvent], shop: Shop, statement: str) -> None:
    past_the_app(statement)
    assert standing_of_log(shop).wrong == 3
    assert standing_of_log(shop, newest=4).wrong is not None
    with pytest.raises(CommandError, match="line 3 is not as it was written"):
        call_command("check_log", stdout=io.StringIO())


def test_a_line_made_to_fit_shows_at_the_next(lines: list[SecurityEvent], shop: Shop) -> None:
    forged = lines[2]
    forged.by_name = "somebody"
    past_the_app(
        f"UPDATE workshop_securityevent SET by_name = 'somebody', digest = '{digest_of_event(forged)}' WHERE number = 3"  # noqa: S608  our own
    )
    assert standing_of_log(shop).wrong == 4


@pytest.mark.parametrize(
    "statement", ["UPDATE workshop_securityevent SET kind = 'x'", "DELETE FROM workshop_securityevent"]
)
def test_the_database_refuses_to_change_a_line(lines: list[SecurityEvent], shop: Shop, statement: str) -> None:
    assert append_only.is_installed()
    with pytest.raises(DatabaseError, match="only added to"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(statement)
    with pytest.raises(DatabaseError, match="only added to"), transaction.atomic():
        SecurityEvent.objects.filter(number=2).delete()
    assert standing_of_log(shop).checked == 5


def test_triggers_that_are_away_are_said(lines: list[SecurityEvent], shop: Shop) -> None:
    append_only.remove()
    assert not append_only.is_installed()
    with pytest.raises(CommandError, match="does not refuse"):
        call_command("check_log", stdout=io.StringIO())
    (fact,) = [fact for fact in standing_of_system(shop, timezone.now()).facts if fact.label == "Security log"]
    assert fact.todo
    append_only.after_migrating()
    assert append_only.is_installed()


def test_system_says_what_is_wrong(client: Client, lines: list[SecurityEvent], owner: User) -> None:
    client.force_login(owner)
    assertContains(client.get(reverse("office:system")), "As it was written")
    past_the_app("UPDATE workshop_securityevent SET by_name = 'x' WHERE number = 3")
    assertContains(client.get(reverse("office:system")), "Line 3 is not as it was written")


def test_the_command_says_that_all_is_well(lines: list[SecurityEvent]) -> None:
    said = io.StringIO()
    call_command("check_log", stdout=said)
    assert "all 5 lines are as they were written" in said.getvalue()


def test_each_shop_has_a_chain_of_its_own_and_sees_no_other(client: Client, lines: list[SecurityEvent]) -> None:
    other = UserFactory(owner=True, shop=ShopFactory())
    assert other.shop is not None
    assert note(shop=other.shop, did=Did.FACTOR_ON, by=other, place=WhereFrom()).number == 1
    client.force_login(other)
    page = client.get(reverse("office:security_log"))
    assertContains(page, "Set up a second factor")
    assertNotContains(page, "new first password")


def test_every_word_has_its_line() -> None:
    assert set(_WORDS) == set(Did)


def test_a_value_that_is_missing_breaks_no_page(owner: User, shop: Shop) -> None:
    assert "?" in words_of(note(shop=shop, did=Did.STAFF_ADDED, by=owner, place=WhereFrom()))
    assert words_of(SecurityEvent(kind="of a newer version")) == "of a newer version"


@pytest.mark.django_db(transaction=True)
def test_two_at_once_take_two_numbers(owner: User, shop: Shop) -> None:
    def add(_: int) -> int:
        return note(shop=shop, did=Did.FACTOR_ON, by=owner, place=WhereFrom()).number

    assert sorted(at_once(add, 3)) == [1, 2, 3]
    assert standing_of_log(shop).wrong is None


class TestWhatIsWrittenDown:
    """Each act of an owner, from its screen."""

    def test_what_is_done_about_a_member_of_staff(self, client: Client, owner: User) -> None:
        client.force_login(owner)
        sent = {"username": "nils", "first_name": "Nils", "last_name": "Berg", "roles": ["counter"]}
        client.post(reverse("office:staff"), sent)
        nils = User.objects.get(username="nils")
        for name, more in (
            ("staff_password", {}),
            ("staff_active", {"active": "0"}),
            ("staff_active", {"active": "1"}),
            ("staff_prices", {"allowed": "1"}),
            ("staff_member", {**sent, "roles": ["mechanic"], "seen_version": nils.version}),
        ):
            assert client.post(reverse(f"office:{name}", args=[nils.pk]), more).status_code == 302
        client.post(reverse("office:devices"), {"name": "Bench tablet"})
        client.get(reverse("office:move_out")).getvalue()
        kinds = list(SecurityEvent.objects.order_by("number").values_list("kind", flat=True))
        assert kinds == [
            "staff_added", "password_reset", "shut_out", "let_in", "prices_allowed", "staff_changed", "device_let_in",
            "took_everything",
        ]  # fmt: skip
        event = SecurityEvent.objects.get(kind="staff_changed")
        assert words_of(event) == "Changed nils: now Mechanic, before Counter"
        assert (event.by, event.by_name, event.address) == (owner, owner.username, "127.0.0.1")

    def test_what_is_refused_is_not(self, client: Client, owner: User) -> None:
        client.force_login(owner)
        client.post(reverse("office:staff_active", args=[owner.pk]), {"active": "0"})
        client.post(reverse("office:staff"), {"username": owner.username, "roles": ["counter"]})
        client.post(reverse("office:staff_second_factor_off", args=[UserFactory(shop=owner.shop).pk]))
        assert not SecurityEvent.objects.exists()

    def test_that_somebody_has_to_wait(self, client: Client, owner: User) -> None:
        for _ in range(9):
            client.post(reverse("sign_in"), {"username": owner.username, "password": "wrong"})
        assert list(SecurityEvent.objects.values_list("kind", flat=True)) == ["had_to_wait"]

    def test_that_somebody_was_let_in_at_the_machine(self, owner: User) -> None:
        call_command("let_in", owner.username, stdout=io.StringIO())
        event = SecurityEvent.objects.get()
        assert (event.kind, event.by, event.values) == ("let_in_at_machine", None, {"who": owner.username})


def test_the_page_is_read_in_stretches_with_as_many_queries(client: Client, owner: User, shop: Shop) -> None:
    client.force_login(owner)
    client.get(reverse("office:security_log"))
    for n in range(60):
        note(shop=shop, did=Did.PASSWORD_RESET, by=owner, place=WhereFrom(), who=f"m{n}")
    page = client.get(reverse("office:security_log"))
    assertContains(page, "m59 a new")
    assertNotContains(page, "m9 a new")
    assertContains(client.get(reverse("office:security_log"), {"before": 11}), "m9 a new")


def test_changed_settings_are_kept_by_their_keys_and_said_in_words(owner: User, shop: Shop) -> None:
    event = note(
        shop=shop, did=Did.SHOP_CHANGED, by=owner, place=WhereFrom(), fields="name,public_address,of_a_later_version"
    )
    assert words_of(event) == "Changed the shop’s settings: name, public address, of a later version"
    assert words_of(note(shop=shop, did=Did.SHOP_CHANGED, by=owner, place=WhereFrom(), fields="")).endswith(": none")
