"""A shop that is suspended: whatever opened it is refused meanwhile, and opens it again afterwards."""

from __future__ import annotations

import time
from typing import Any

import pytest
from django.core import mail
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pytest_django.asserts import assertContains, assertRedirects

from tests.addresses import parts_of
from tests.bench_runs import HTMX, form_of
from tests.factories import PASSWORD, UserFactory
from tests.full_shop import FIRST_STEP, FullShop, full_shop
from tests.workshop.reminders.due_units import due_unit, queued
from tests.workshop.test_who_may_enter import LEAST_SENT, SENT_WITHOUT_A_FORM, the_table, undone
from workshop.customers.privacy_models import ErasureAhead, RetentionPolicy
from workshop.links.links import make_link
from workshop.models import CustomerLink, Device, Message, SecurityEvent, Shop, TicketRun, User
from workshop.privacy import retention
from workshop.reminders.sending import send_waiting
from workshop.sign_in import person_views
from workshop.sign_in import views as sign_in_views
from workshop.staff.devices import COOKIE
from workshop.staff.one_time_codes import code_at, new_secret, step_at
from workshop.staff.quick_codes import set_code
from workshop.staff.second_factor import set_up_second_factor
from workshop.staff.security_log import standing_of_log, words_of
from workshop.staff.stopped_shops import (
    CannotStop,
    ShopStopped,
    close_shop_for_good,
    refuse_stopped,
    resume_shop,
    suspend_shop,
)
from workshop.web.versions import StaleVersion, take_version

pytestmark = pytest.mark.django_db
CODE = "2580"


def suspend(shop: Shop) -> None:
    suspend_shop(shop=shop, who="Runa", why="not paid")


def go_on(shop: Shop) -> None:
    resume_shop(shop=shop, who="Runa")


@pytest.fixture
def ours() -> FullShop:
    return full_shop("Aldermoor")


@pytest.fixture
def owner() -> User:
    return UserFactory(owner=True, with_password=True)


def is_told(answer: Any, shop: Shop | None) -> bool:
    return answer.status_code == 503 and f"<h1>{shop} is suspended</h1>" in answer.content.decode()


def by_password(client: Client, user: User) -> Any:
    return client.post(reverse("sign_in"), {"username": user.username, "password": PASSWORD})


def is_in(client: Client) -> bool:
    return "_auth_user_id" in client.session


def test_no_address_opens_and_all_of_them_do_afterwards(client: Client, ours: FullShop) -> None:
    """Every address of the table, looked at and sent to, by its owner and by who has the customer's link."""
    client.force_login(ours.owner)
    tried, opened = 0, []
    before = {name: undone(client, "get", address).status_code for name, address in addresses(ours)}
    suspend(ours.shop)
    for name, address in addresses(ours):
        row = the_table()[name]
        sent = {field: ours.ids.get(value, value) for field, value in LEAST_SENT.get(name, {}).items()}
        for method in [method for method, who in row.items() if who != "-"]:
            answer = undone(client, method, address, sent)
            tried += 1
            by_link = row[method] == "link"
            says = "This page cannot be opened" if by_link else "is suspended</h1>"
            if answer.status_code != 503 or says not in answer.content.decode():
                opened.append(f"{method} {name}: {answer.status_code}")
    assert not opened, "\n".join(opened)
    assert tried > 300
    go_on(ours.shop)
    assert {name: undone(client, "get", address).status_code for name, address in addresses(ours)} == before


def addresses(shop: FullShop) -> list[tuple[str, str]]:
    """Those that ask who comes in; stopping reminders asks nobody, and goes on."""
    return [
        (name, reverse(name, kwargs=shop.arguments(name, parts_of(name))))
        for name, row in the_table().items()
        if "anyone" not in row.values() and name not in SENT_WITHOUT_A_FORM
    ]


def test_htmx_is_told_in_words_that_a_page_shows(client: Client, ours: FullShop) -> None:
    client.force_login(ours.mechanic)
    suspend(ours.shop)
    answer = client.get(reverse("bench:board"), **HTMX)
    assertContains(answer, "suspended by whoever runs the computer", status_code=503)
    assert answer["Cache-Control"] == "no-store"
    assert "Counter" not in answer.content.decode()  # no way on is offered


def test_a_page_of_nobody_does_not_open_either(client: Client, ours: FullShop) -> None:
    suspend(ours.shop)
    assert client.get(reverse("bench:board")).status_code == 302


def test_a_session_goes_on_where_it_was(client: Client, owner: User) -> None:
    assert owner.shop is not None
    client.force_login(owner)
    suspend(owner.shop)
    assert is_told(client.get("/", follow=True), owner.shop)
    go_on(owner.shop)
    assert client.get("/", follow=True).status_code == 200


def test_its_people_can_sign_out(client: Client, owner: User) -> None:
    assert owner.shop is not None
    client.force_login(owner)
    suspend(owner.shop)
    client.post(reverse("sign_out"))
    assert not is_in(client)


def test_nobody_signs_in_by_a_password(client: Client, owner: User) -> None:
    assert owner.shop is not None
    suspend(owner.shop)
    assert is_told(by_password(client, owner), owner.shop)
    assert not is_in(client)
    assert client.post(reverse("sign_in"), {"username": owner.username, "password": "wrong"}).status_code == 200
    go_on(owner.shop)
    by_password(client, owner)
    assert is_in(client)


def test_nobody_comes_in_who_passed_the_first_look_a_moment_before(
    client: Client, owner: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where the session is made it is asked once more, by password and by code."""
    assert owner.shop is not None
    client.force_login(owner)
    client.post(reverse("office:devices"), {"name": "Bench tablet"})
    set_code(user=owner, code=CODE)
    client.post(reverse("sign_out"))
    suspend(owner.shop)
    for views in (sign_in_views, person_views):
        monkeypatch.setattr(views, "refuse_stopped", lambda shop: None)
    assert is_told(by_password(client, owner), owner.shop)
    assert is_told(client.post(reverse("change_person"), {"person": owner.pk, "code": CODE}), owner.shop)
    assert not is_in(client)


def test_nobody_signs_in_by_a_second_factor(client: Client, owner: User) -> None:
    """Neither before it is asked for, nor where the shop is suspended between the two; the code is not used up."""
    assert owner.shop is not None
    secret, step = new_secret(), step_at(time.time())
    set_up_second_factor(user=owner, secret=secret, typed=code_at(secret, step - 1))
    by_password(client, owner)
    suspend(owner.shop)
    code = {"code": code_at(secret, step)}
    assert is_told(client.post(reverse("second_step"), code), owner.shop)
    other = Client()
    assert is_told(by_password(other, owner), owner.shop)
    assert not is_in(client)
    go_on(owner.shop)
    assert client.post(reverse("second_step"), code).status_code == 302
    assert is_in(client)


def test_nobody_changes_by_a_short_code(client: Client, owner: User) -> None:
    assert owner.shop is not None
    client.force_login(owner)
    client.post(reverse("office:devices"), {"name": "Bench tablet"})
    set_code(user=owner, code=CODE)
    client.post(reverse("sign_out"))
    suspend(owner.shop)
    for answer in (
        client.get(reverse("change_person")),
        client.post(reverse("change_person"), {"person": owner.pk, "code": CODE}),
    ):
        assert is_told(answer, owner.shop)
    assert not is_in(client)
    assert client.cookies[COOKIE].value
    assert Device.objects.get().ended_at is None
    go_on(owner.shop)
    assertRedirects(
        client.post(reverse("change_person"), {"person": owner.pk, "code": CODE}),
        reverse("home"),
        fetch_redirect_response=False,
    )


def test_a_link_is_not_noted_as_opened_and_opens_again(client: Client, ours: FullShop) -> None:
    CustomerLink.objects.update(last_opened_at=None)
    _, secret = make_link(ticket=ours.ticket, by=None)
    suspend(ours.shop)
    answer = client.get(reverse("customer:page", args=[secret]))
    assertContains(answer, "This page cannot be opened", status_code=503)
    assertContains(answer, "suspended", count=0, status_code=503)  # why is no business of a customer's
    assert not CustomerLink.objects.exclude(last_opened_at=None).exists()
    assert client.get(reverse("customer:page", args=["x" * 43])).status_code == 404
    go_on(ours.shop)
    assert client.get(reverse("customer:page", args=[secret])).status_code == 200


def test_who_wants_no_reminders_is_heard_all_the_same(client: Client, ours: FullShop) -> None:
    suspend(ours.shop)
    assert client.post(reverse("customer:stop", args=[ours.ids["stop"]])).status_code == 200
    ours.ticket.customer.refresh_from_db()
    assert not ours.ticket.customer.agreed_to_reminders


def test_a_tick_is_answered_so_that_the_tablet_keeps_it(
    client: Client, ours: FullShop, caplog: pytest.LogCaptureFixture
) -> None:
    """503 is what its queue waits and tries again after; refused (422) or gone (404) it would put the answer aside."""
    run = TicketRun.objects.get(ticket=ours.ticket).run
    client.force_login(ours.mechanic)
    suspend(ours.shop)
    address = reverse("bench:step", args=[ours.ticket.number, run.pk, FIRST_STEP])
    pressed = form_of(run, "done")
    ticked = run.ticks.count()
    answer = client.post(address, pressed, headers={"HX-Request": "true", "X-Person": str(ours.mechanic.pk)})
    assert answer.status_code == 503
    assert run.ticks.count() == ticked
    assert client.get(reverse("customer:page", args=[ours.secret])).status_code == 503
    assert caplog.records == []  # no error: a tablet asks every few seconds


def test_another_shop_of_the_database_notices_nothing(client: Client, ours: FullShop) -> None:
    theirs = full_shop("Quillback", first_number=700, beside=ours)
    suspend(ours.shop)
    client.force_login(theirs.owner)
    assert client.get(reverse("office:overview")).status_code == 200
    assert client.get(reverse("customer:page", args=[theirs.secret])).status_code == 200
    queued(due_unit(theirs.shop))
    assert send_waiting(shop=theirs.shop).sent
    assert not SecurityEvent.objects.filter(shop=theirs.shop).exists()


class TestWhatLeavesByItself:
    def test_messages_wait_and_leave_afterwards(self, owner: User) -> None:
        assert owner.shop is not None
        message = queued(due_unit(owner.shop))
        suspend(owner.shop)
        call_command("send_reminders", "--quiet")
        assert send_waiting(shop=owner.shop).handled == 0
        assert send_waiting(shop=owner.shop, only=message.pk).handled == 0
        assert mail.outbox == []
        assert Message.objects.get().state == Message.State.QUEUED
        go_on(owner.shop)
        call_command("send_reminders", "--quiet")
        assert len(mail.outbox) == 1

    def test_a_suspension_holds_from_the_next_message_on(self, owner: User) -> None:
        assert owner.shop is not None
        shop = owner.shop
        for _ in range(3):
            queued(due_unit(shop))
        report = send_waiting(shop=shop, progress=lambda _: suspend(shop) if not shop.is_stopped else None)
        assert report.sent == 1

    @pytest.mark.parametrize(("close", "announced"), [(False, 0), (True, 1)])
    def test_nobody_is_erased_of_a_suspended_shop_and_people_of_a_closed_one_are(
        self, owner: User, monkeypatch: pytest.MonkeyPatch, close: bool, announced: int
    ) -> None:
        assert owner.shop is not None
        RetentionPolicy.objects.create(shop=owner.shop, years=3, by_itself=True)
        customer = due_unit(owner.shop).customer
        monkeypatch.setattr(retention, "proposed_for_erasure", lambda shop, today: type(customer).objects.all())
        suspend(owner.shop)
        if close:
            close_shop_for_good(shop=owner.shop, who="Runa", file="all.zip")
        call_command("send_reminders", "--quiet")
        assert ErasureAhead.objects.count() == announced


class TestTheStates:
    def test_each_act_stands_in_the_log_with_the_operator(self, owner: User) -> None:
        assert owner.shop is not None
        suspend(owner.shop)
        go_on(owner.shop)
        suspend_shop(shop=owner.shop, who="Runa", why="")
        close_shop_for_good(shop=owner.shop, who="Runa", file="all.zip")
        assert [words_of(event) for event in SecurityEvent.objects.order_by("number")] == [
            "The operator of the shop’s computer, Runa, suspended the shop: not paid",
            "The operator of the shop’s computer, Runa, resumed the shop",
            "The operator of the shop’s computer, Runa, suspended the shop: no reason given",
            "The operator of the shop’s computer, Runa, closed the shop for good. Everything of it: all.zip",
        ]
        assert standing_of_log(owner.shop).wrong is None

    def test_what_does_not_follow_is_refused_and_not_noted(self, owner: User) -> None:
        shop = owner.shop
        assert shop is not None
        with pytest.raises(CannotStop, match="is not suspended"):
            go_on(shop)
        with pytest.raises(CannotStop, match="is open"):
            close_shop_for_good(shop=shop, who="Runa", file="all.zip")
        suspend(shop)
        with pytest.raises(CannotStop, match=f"suspended since {timezone.localtime():%-d %b %Y} already"):
            suspend(shop)
        close_shop_for_good(shop=shop, who="Runa", file="all.zip")
        for act in (suspend, go_on, lambda shop: close_shop_for_good(shop=shop, who="Runa", file="all.zip")):
            with pytest.raises(CannotStop, match="closed since"):
                act(shop)
        assert SecurityEvent.objects.count() == 2
        with pytest.raises(ShopStopped, match="closed for good"):
            refuse_stopped(shop)

    def test_settings_that_were_open_meanwhile_are_not_saved_over_it(self, owner: User) -> None:
        """A full save of a shop that was read before would take the suspension back."""
        assert owner.shop is not None
        read_before = Shop.objects.get(pk=owner.shop.pk)
        suspend(owner.shop)
        with pytest.raises(StaleVersion):
            take_version(read_before, read_before.version)

    def test_a_closed_shop_is_told_so(self, client: Client, ours: FullShop) -> None:
        client.force_login(ours.owner)
        suspend(ours.shop)
        close_shop_for_good(shop=ours.shop, who="Runa", file="all.zip")
        assertContains(client.get(reverse("office:overview")), f"{ours.shop} is closed", status_code=503)
        assert client.get(reverse("customer:page", args=[ours.secret])).status_code == 410


def test_the_command_says_what_it_means(capsys: pytest.CaptureFixture[str], owner: User) -> None:
    assert owner.shop is not None
    call_command("suspend_shop", str(owner.shop.pk), "--why", "not paid", "--by", "Runa")
    said = capsys.readouterr().out
    assert f"{owner.shop} is suspended." in said
    assert f"suspend_shop {owner.shop.pk} --back" in said
    with pytest.raises(CommandError, match="already"):
        call_command("suspend_shop", str(owner.shop.pk))
    call_command("suspend_shop", str(owner.shop.pk), "--back")
    owner.shop.refresh_from_db()
    assert not owner.shop.is_stopped
    with pytest.raises(CommandError, match="There is no shop 0"):
        call_command("suspend_shop", "0")
