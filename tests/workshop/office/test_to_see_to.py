"""The owner's overview: what wants seeing to, why, and the page that cures it, most harmful first, nothing twice."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from tests.factories import (
    ChecklistFactory,
    CustomerFactory,
    PartFactory,
    PartLineFactory,
    ShopFactory,
    SpecValueFactory,
    StockItemFactory,
    TicketFactory,
    TorqueToolFactory,
    UserFactory,
)
from tests.known import known
from tests.workshop.reminders.due_units import due_unit, queued
from workshop.models import ErasureAhead, Message, Shop, StockItem, Ticket
from workshop.office.overview import overview_of
from workshop.office.to_see_to import Thing
from workshop.running.keeping import name_of
from workshop.stock.ordering import place_order

pytestmark = pytest.mark.django_db
DAY = dt.timedelta(days=1)


@pytest.fixture
def shop(settings: Any, tmp_path: Path) -> Shop:
    """One whose backup of last night is there."""
    settings.BACKUP_DIR = tmp_path / "backups"
    settings.BACKUP_DIR.mkdir()
    (settings.BACKUP_DIR / name_of(timezone.now())).touch()
    return ShopFactory.create()


@pytest.fixture
def office(client: Client, shop: Shop) -> Client:
    client.force_login(UserFactory.create(shop=shop, owner=True))
    return client


def things(shop: Shop) -> dict[str, Thing]:
    return {thing.key: thing for thing in overview_of(shop, timezone.localdate()).things}


def lacking(shop: Shop, promised: dt.timedelta, **ticket: Any) -> tuple[Ticket, StockItem]:
    """A ticket that needs a part of which none is there."""
    made = TicketFactory.create(shop=shop, promised_on=timezone.localdate() + promised, **ticket)
    item = StockItemFactory.create(shop=shop, lead_days=5, supplier="Quarry Parts", part=PartFactory.create())
    PartLineFactory.create(ticket=made, part=item.part, quantity=2)
    return made, item


def ordered(shop: Shop, item: StockItem) -> int:
    order = place_order(shop=shop, supplier="Quarry Parts", quantities={item.pk: Decimal(2)}, by=None)
    return order.number


def test_nothing_to_see_to(office: Client, shop: Shop) -> None:
    assert things(shop) == {}
    assert "Nothing wants seeing to" in office.get(reverse("office:overview")).content.decode()


def test_late_because_of_a_part_leads_to_its_order(shop: Shop, office: Client) -> None:
    ticket, item = lacking(shop, -DAY)
    (shown,) = things(shop)["promises"].shown
    assert shown.cure.url == reverse("stores:to_order")  # type: ignore[attr-defined]
    assert item.part.description in office.get(reverse("office:overview")).content.decode()

    number = ordered(shop, item)
    (shown,) = things(shop)["promises"].shown
    assert (shown.pk, shown.cure.url) == (ticket.pk, reverse("stores:order", args=[number]))  # type: ignore[attr-defined]


def test_late_because_of_an_answer_leads_to_its_customer(shop: Shop) -> None:
    ticket = TicketFactory.create(shop=shop, waiting=True, promised_on=timezone.localdate() - DAY)
    (shown,) = things(shop)["promises"].shown
    assert shown.cure.url == reverse("counter:ticket", args=[ticket.number])  # type: ignore[attr-defined]
    assert shown.danger.reason == "it waits for the customer’s answer"  # type: ignore[attr-defined]


def test_late_by_its_own_work_leads_to_another_day(shop: Shop) -> None:
    ticket = TicketFactory.create(shop=shop, promised_on=timezone.localdate() - DAY)
    (shown,) = things(shop)["promises"].shown
    assert shown.cure.url == reverse("counter:edit_agreement", args=[ticket.number])  # type: ignore[attr-defined]


def test_a_part_stands_with_its_late_ticket_or_by_itself_never_twice(shop: Shop, office: Client) -> None:
    _, late = lacking(shop, -DAY)
    assert "parts" not in things(shop)
    in_time, early = lacking(shop, 60 * DAY)
    parts = things(shop)["parts"]
    assert (parts.count, parts.cure.url) == ("1", reverse("stores:to_order"))
    assert str(early.part) in parts.why
    assert f"ticket {in_time.number}" in parts.why
    page = office.get(reverse("office:overview")).content.decode()
    assert page.count(late.part.description) == 1

    number = ordered(shop, early)
    assert things(shop)["parts"].cure.url == reverse("stores:order", args=[number])


@pytest.mark.parametrize("of_the_list", [True, False])
def test_what_the_shop_keeps_no_place_for_stands_once_too(shop: Shop, of_the_list: bool) -> None:
    late = TicketFactory.create(shop=shop, promised_on=timezone.localdate() - DAY)
    part = PartFactory.create() if of_the_list else None
    PartLineFactory.create(ticket=late, part=part, words="" if part else "Odd circlip")
    assert "parts" not in things(shop)
    Ticket.objects.filter(pk=late.pk).update(promised_on=timezone.localdate() + 60 * DAY)
    assert (things(shop)["parts"].count, "promises" in things(shop)) == ("1", False)


def test_what_is_not_ordered_comes_before_what_is(shop: Shop) -> None:
    _, on_its_way = lacking(shop, 50 * DAY)
    ordered(shop, on_its_way)
    _, forgotten = lacking(shop, 60 * DAY)
    parts = things(shop)["parts"]
    assert [row.what for row in parts.rows] == [str(forgotten.part), str(on_its_way.part)]
    assert parts.why == "1 not ordered yet."


def test_waiting_tickets_that_are_late_stand_once(shop: Shop) -> None:
    TicketFactory.create(shop=shop, waiting=True, promised_on=timezone.localdate() - DAY)
    calm = TicketFactory.create(shop=shop, waiting=True, promised_on=timezone.localdate() + 60 * DAY)
    waiting = things(shop)["waiting"]
    assert (waiting.count, [ticket.pk for ticket in waiting.tickets]) == ("1", [calm.pk])


def test_torque_tools_that_nobody_should_trust(shop: Shop) -> None:
    today = timezone.localdate()
    tool = TorqueToolFactory.create(shop=shop, calibrated_on=today - 400 * DAY, calibrated_until=today + 60 * DAY)
    TorqueToolFactory.create(shop=shop, retired=True, calibrated_until=None)
    assert "tools" not in things(shop)
    for changed, said in (
        ({"calibrated_until": today + 3 * DAY}, "runs out on"),
        ({"calibrated_until": today - DAY}, "ran out on"),
        ({"calibrated_until": today + 60 * DAY, "outside_by": "check"}, "outside its class"),
        ({"calibrated_until": None, "calibrated_on": None, "outside_by": ""}, "no calibration on record"),
    ):
        type(tool).objects.filter(pk=tool.pk).update(**changed)
        thing = things(shop)["tools"]
        assert said in thing.why
        assert thing.cure.url == reverse("stores:torque_tool", args=[tool.pk])


def test_a_backup_that_is_old_or_not_there(shop: Shop, settings: Any) -> None:
    (made,) = settings.BACKUP_DIR.iterdir()
    made = made.rename(settings.BACKUP_DIR / name_of(timezone.now() - 3 * DAY))
    assert "3 days ago" in things(shop)["backup"].why
    made.unlink()
    thing = things(shop)["backup"]
    assert ("There is none" in thing.why, thing.cure.url) == (True, reverse("office:backups"))
    Shop.objects.filter(pk=shop.pk).update(is_demo=True)
    assert "backup" not in things(Shop.objects.get(pk=shop.pk))


def test_mail_that_failed_and_mail_that_cannot_leave(shop: Shop, settings: Any) -> None:
    message = queued(due_unit(shop))
    assert "mail" not in things(shop)
    settings.EMAIL_BACKEND = "django.core.mail.backends.dummy.EmailBackend"
    assert things(shop)["mail"].cure.url == reverse("office:mail")
    Message.objects.filter(pk=message.pk).update(state=Message.State.FAILED)
    mail = things(shop)["mail"]
    assert (mail.title, mail.count, mail.cure.url) == ("Mail failed", "1", reverse("office:reminders_outbox"))


def test_reminders_values_and_checklists(shop: Shop) -> None:
    due_unit(shop)
    due_unit(shop, agreed=False)
    ChecklistFactory.create()
    found = things(shop)
    assert found["reminders"].count == "1"
    assert found["checklists"].cure.url == reverse("checklists:to_read")
    assert int(found["values"].count) >= 1


def everything(shop: Shop) -> None:
    """One of each, and more promises than are shown at once."""
    today = timezone.localdate()
    TorqueToolFactory.create(shop=shop, calibrated_until=None)
    for _ in range(4):
        lacking(shop, -DAY)
    lacking(shop, 60 * DAY)
    lacking(shop, 61 * DAY)
    Message.objects.filter(pk=queued(due_unit(shop)).pk).update(state=Message.State.FAILED)
    SpecValueFactory.create()
    ChecklistFactory.create()
    due_unit(shop)
    ErasureAhead.objects.create(customer=CustomerFactory.create(shop=shop), since=today, last_on=today)
    TicketFactory.create(shop=shop, state="ready", state_since=timezone.now() - 9 * DAY)
    TicketFactory.create(shop=shop, waiting=True, promised_on=today + 60 * DAY)


def test_the_most_harmful_comes_first_and_each_has_its_cure(shop: Shop, office: Client, settings: Any) -> None:
    for made in settings.BACKUP_DIR.iterdir():
        made.unlink()
    everything(shop)
    found = overview_of(shop, timezone.localdate()).things
    assert [thing.key for thing in found] == [
        "tools", "backup", "promises", "parts", "mail", "values", "checklists", "reminders", "erasures", "uncollected",
        "waiting",
    ]  # fmt: skip
    page = office.get(reverse("office:overview")).content.decode()
    for thing in found:
        assert f'href="{thing.cure.url}"' in page
        assert office.get(thing.cure.url).status_code == 200, thing.key
        for ticket in [*thing.shown, *thing.tickets]:
            assert office.get(ticket.cure.url).status_code == 200  # type: ignore[attr-defined]
        for row in thing.rows:
            assert office.get(row.cure.url).status_code == 200
    for ticket in Ticket.objects.filter(shop=shop):
        assert page.count(f'href="{reverse("counter:ticket", args=[ticket.number])}">{ticket.number}<') <= 1


def test_more_of_all_costs_no_more_queries(shop: Shop, office: Client) -> None:
    everything(shop)
    office.get(reverse("office:overview"))
    with CaptureQueriesContext(connection) as before:
        office.get(reverse("office:overview"))
    for _ in range(3):
        everything(shop)
    office.get(reverse("office:overview"))  # works out who is newly due, and writes it down
    with CaptureQueriesContext(connection) as after:
        office.get(reverse("office:overview"))
    assert len(after) == len(before) <= 60


def test_another_shops_troubles_are_not_ours(shop: Shop) -> None:
    everything(ShopFactory.create())
    assert set(things(shop)) == {"values", "checklists"}  # which all shops of a database share
    assert known(overview_of(shop, timezone.localdate()).thing("values")).cure.label == "Check them"
