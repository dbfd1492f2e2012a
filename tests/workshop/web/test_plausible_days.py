"""Days that people type: refused where they must be a slip, asked about where they are far, shown with their year."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.template import Context, Template
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from tests import factories
from tests.workshop.counter.test_counter_screens import booking
from workshop.charges.tax_rates import set_tax_rate
from workshop.intervals.riding import read_counter, say_weekly_hours
from workshop.intervals.services import note_service_elsewhere
from workshop.models import Shop, Ticket
from workshop.promise.closed import close_day
from workshop.promise.people import add_absence, set_week
from workshop.reminders.queueing import decide
from workshop.stock.batches import batch_named, open_bottle
from workshop.stock.keeping import change_item
from workshop.stock.moving import receive
from workshop.stock.order_changes import LineRefused, LineTerms, change_lines
from workshop.stock.ordering import expect_order, place_order
from workshop.suspension.fitting import end_fitting, fit, give_to
from workshop.tickets.booking import Agreed
from workshop.tickets.editing import edit_ticket
from workshop.torque.care import add_calibration
from workshop.torque.tools import register_tool
from workshop.web.day_words import day_in_words
from workshop.web.plausible_days import DayKind, is_asked_about, refuse_day
from workshop.work.old_parts import change_old_part, keep_old_part

YEAR_2099 = dt.date(2099, 1, 1)
LONG_AGO = dt.date(1902, 6, 1)


@pytest.fixture
def shop(db: None) -> Shop:
    made: Shop = factories.ShopFactory()
    return made


@pytest.fixture
def counter(client: Client, shop: Shop) -> Client:
    client.force_login(factories.UserFactory(shop=shop))
    return client


def in_days(days: int) -> dt.date:
    return timezone.localdate() + dt.timedelta(days=days)


@pytest.mark.parametrize("kind", DayKind)
def test_no_kind_of_day_lies_in_2099_or_in_1902_and_each_has_its_last_day(kind: DayKind) -> None:
    for slip in (YEAR_2099, LONG_AGO):
        with pytest.raises(ValidationError):
            refuse_day("day", slip, kind)
        refuse_day("day", slip, kind, kept=slip)
    for edge, beyond in ((-kind.value.back, -1), (kind.value.ahead, 1)):
        refuse_day("day", in_days(edge), kind)
        with pytest.raises(ValidationError) as refused:
            refuse_day("day", in_days(edge + beyond), kind)
        assert list(refused.value.message_dict) == ["day"]


def test_a_promise_of_more_than_three_months_is_asked_about() -> None:
    assert not is_asked_about(in_days(92), DayKind.PROMISED)
    assert is_asked_about(in_days(93), DayKind.PROMISED)
    assert not is_asked_about(in_days(93), DayKind.PROMISED, kept=in_days(93))


def writes(shop: Shop) -> dict[str, Callable[[dt.date], object]]:
    """Everything that writes a day somebody typed."""
    unit = factories.SuspensionUnitFactory(shop=shop)
    bike = factories.BikeFactory(customer=unit.customer)
    other = factories.CustomerFactory(shop=shop)
    ticket = factories.TicketFactory(shop=shop)
    item = factories.StockItemFactory(shop=shop, supplier="North")
    order = place_order(shop=shop, supplier="North", quantities={item.pk: Decimal(1)}, by=None)
    mechanic, owner = (factories.UserFactory(shop=shop, mechanic=one, owner=not one) for one in (True, False))
    set_week(mechanic=mechanic, seen_version=0, hours=[Decimal(6)] * 5 + [Decimal(0)] * 2)
    away: dict[str, Any] = {"mechanic": mechanic, "by": owner, "kind": "holiday"}

    def calibrated(on: dt.date, due: dt.date) -> object:
        wrench = factories.TorqueToolFactory(shop=shop)
        return add_calibration(
            tool=wrench, by=mechanic, seen_version=1, on=on, due=due, by_whom="Lab", as_left="within"
        )

    def promised_by_supplier(day: dt.date) -> object:
        terms = {order.lines.get().pk: LineTerms(Decimal(1), None, day)}
        try:
            return change_lines(order=order, seen_version=1, terms=terms, confirmed=True, by=None)
        except LineRefused as refused:
            raise ValidationError({"expected_on": list(refused.reasons.values())}) from refused

    rates: dict[str, Any] = {"labour_percent": Decimal(7), "parts_percent": Decimal(7)}
    terms: dict[str, Any] = {"cost": None, "shelf": "", "supplier": "North", "lead_days": None,
                             "reorder_level": Decimal(0), "by": None}  # fmt: skip
    tool: dict[str, Any] = {"name": "Small", "low_nm": 2.0, "high_nm": 20.0, "tool_class": "setting"}
    old_part = keep_old_part(ticket=ticket, words="Wipers", by=None)
    thrown_away: dict[str, Any] = {"state": "thrown_away", "note": "They did", "seen_version": 1, "by": None}

    def opened(on: dt.date, use_by: dt.date | None) -> object:
        batch = batch_named(item=item, number="2", use_by=None, by=None)
        receive(item=item, quantity=Decimal(1), by=None, batch=batch)
        return open_bottle(batch=batch, quantity=None, opened_on=on, use_by=use_by, seen_version=1, by=None)

    return {
        "promised": lambda day: edit_ticket(ticket=ticket, by=None, seen_version=1, agreed=Agreed("Knocks.", day)),
        "fitted": lambda day: fit(unit=unit, bike=bike, since=day, by=None),
        "taken off": lambda day: end_fitting(unit=unit, until=day),
        "given": lambda day: give_to(unit=unit, customer=other, on=day, by=None),
        "weekly": lambda day: say_weekly_hours(unit=unit, hours_per_week=3, since=day, by=None),
        "counter": lambda day: read_counter(unit=unit, on=day, counter_hours=3, by=None),
        "elsewhere": lambda day: note_service_elsewhere(unit=unit, level="lowers", on=day, told_by="them", by=None),
        "tax": lambda day: set_tax_rate(shop=shop, seen_version=0, from_on=day, by=None, **rates),
        "prices": lambda day: change_item(item=item, price=Decimal(9), prices_from=day, **terms),
        "put off": lambda day: decide(keys=[], snoozed_until=day, by=None),
        "closed": lambda day: close_day(shop=shop, day=day),
        "line": promised_by_supplier,
        "expected": lambda day: expect_order(order=order, seen_version=1, expected_on=day),
        "away from": lambda day: add_absence(first=day, last=in_days(400), **away),
        "away to": lambda day: add_absence(first=in_days(0), last=day, **away),
        "calibrated anew": lambda day: calibrated(on=day, due=in_days(9000)),
        "due": lambda day: calibrated(on=in_days(-20 * 366), due=day),
        "calibrated": lambda day: register_tool(shop=shop, number="1", calibrated_on=day, **tool),
        "use by": lambda day: batch_named(item=item, number="1", use_by=day, by=None),
        "opened": lambda day: opened(day, None),
        "use by, open": lambda day: opened(in_days(0), day),
        "agreed": lambda day: change_old_part(part=old_part, agreed_on=day, **thrown_away),
        "calibration": lambda day: register_tool(shop=shop, number="2", calibrated_until=day, **tool),
    }


@pytest.mark.parametrize("slip", [YEAR_2099, LONG_AGO])
def test_whatever_writes_a_typed_day_refuses_a_slip_of_the_year(shop: Shop, slip: dt.date) -> None:
    beside: dict[str, list[str]] = {}
    all_of_them = writes(shop)
    for name, write in all_of_them.items():
        try:
            write(slip)
        except ValidationError as error:
            beside[name] = list(error.message_dict)
    assert set(beside) == set(all_of_them)
    assert all(len(fields) == 1 for fields in beside.values())


def test_every_date_field_of_the_database_that_people_type_is_among_them() -> None:
    """A new DateField belongs into `writes` above, or here with what fills it."""
    from django.apps import apps
    from django.db.models import DateField, DateTimeField

    filled_by_the_app = {
        "DueUnit.as_of", "DueUnit.look_again_on", "Message.due_on", "Decision.counted_from",
        "RemindedService.counted_from", "PromiseHeard.earliest_on", "DrawerCount.day", "RecordLook.on",
        "ErasureAhead.since", "ErasureAhead.last_on",
    }  # fmt: skip
    typed = {
        "TaxRate.from_on", "PriceUpdate.from_on",
        "Ticket.promised_on", "Fitting.since", "Fitting.until", "ChangeOfOwner.on", "WeeklyHours.since",
        "CounterReading.on", "ServiceDone.on", "Decision.snoozed_until", "ClosedDay.day", "PurchaseOrder.expected_on",
        "OrderLine.expected_on",
        "TorqueTool.calibrated_on", "TorqueTool.calibrated_until", "Absence.first", "Absence.last",
        "Calibration.on", "Calibration.due", "Batch.use_by", "Batch.opened_on", "OldPart.agreed_on",
    }  # fmt: skip
    there = {
        f"{model.__name__}.{field.name}"
        for app in ("workshop", "diagnosis", "specs")
        for model in apps.get_app_config(app).get_models()
        for field in model._meta.get_fields()
        if isinstance(field, DateField) and not isinstance(field, DateTimeField)
    }
    assert typed <= there
    assert there - typed <= filled_by_the_app, there - typed - filled_by_the_app


@pytest.mark.parametrize(("day", "said"), [
    (in_days(-1), "That day is over"), (YEAR_2099, "too far ahead"), (in_days(3 * 366), "too far ahead"),
])  # fmt: skip
def test_a_booking_for_a_day_that_cannot_be_meant_is_refused(counter: Client, day: dt.date, said: str) -> None:
    response = counter.post(reverse("counter:book_in"), booking(**{"ticket-promised_on": day.isoformat()}))
    assert response.status_code == 422
    assert said in response.content.decode()
    assert "far_day_meant" not in response.content.decode()
    assert not Ticket.objects.exists()


def test_a_booking_for_months_ahead_is_asked_about_once_and_keeps_what_was_typed(counter: Client) -> None:
    far, farther = in_days(120), in_days(150)
    data = booking(**{"ticket-promised_on": far.isoformat()})
    asked = counter.post(reverse("counter:book_in"), data)
    page = asked.content.decode()
    assert asked.status_code == 422
    assert f"{day_in_words(far)} is more than three months ahead" in page
    assert f'name="ticket-far_day_meant" value="{far.isoformat()}"' in page
    for typed in ("Jana Novák", "0555 010 447", "KP-1", "Green hardtail", "Sits low.", "5.6 bar", far.isoformat()):
        assert typed in page
    meant = {**data, "ticket-far_day_meant": far.isoformat()}
    other_day = counter.post(reverse("counter:book_in"), {**meant, "ticket-promised_on": farther.isoformat()})
    assert f"{day_in_words(farther)} is more than three months ahead" in other_day.content.decode()
    also_wrong = counter.post(reverse("counter:book_in"), {**meant, "customer-name": ""}).content.decode()
    assert "three months ahead" not in also_wrong
    assert f'value="{far.isoformat()}" id="id_ticket-far_day_meant" checked' in also_wrong.replace("  ", " ")
    assert counter.post(reverse("counter:book_in"), meant).status_code == 302
    assert Ticket.objects.get().promised_on == far


def test_an_agreement_keeps_its_stored_day_and_asks_about_a_far_new_one(counter: Client, shop: Shop) -> None:
    ticket = factories.TicketFactory(shop=shop, promised_on=in_days(-4))
    address = reverse("counter:edit_agreement", args=[ticket.number])
    data = {"complaint_words": "Knocks.", "promised_on": in_days(-4).isoformat(), "notes": "Call.", "seen_version": "1"}
    assert counter.post(address, data).status_code == 302
    ticket.refresh_from_db()
    assert (ticket.notes, ticket.promised_on) == ("Call.", in_days(-4))
    data["seen_version"] = str(ticket.version)
    assert (
        "That day is over" in counter.post(address, {**data, "promised_on": in_days(-3).isoformat()}).content.decode()
    )
    far = {**data, "promised_on": in_days(200).isoformat()}
    asked = counter.post(address, far)
    assert asked.status_code == 422
    assert "more than three months ahead" in asked.content.decode()
    stale = counter.post(address, {**far, "far_day_meant": in_days(200).isoformat(), "seen_version": "1"})
    assert stale.status_code == 409
    assert counter.post(address, {**far, "far_day_meant": in_days(200).isoformat()}).status_code == 302
    ticket.refresh_from_db()
    assert ticket.promised_on == in_days(200)


def test_a_move_to_another_bike_in_2099_is_refused_beside_its_field(counter: Client, shop: Shop) -> None:
    unit = factories.SuspensionUnitFactory(shop=shop)
    bike = factories.BikeFactory(customer=unit.customer)
    address = reverse("counter:move_unit", args=[unit.pk])
    response = counter.post(address, {"bike": bike.pk, "since": "2099-01-01"})
    assert response.status_code == 422
    assert "That day is still to come." in response.content.decode()
    assert not unit.fittings.exists()


@pytest.mark.parametrize("how", ["D j M", "j M", "l j F", "D j M, H:i", "H:i, j M"])
def test_a_day_of_another_year_is_shown_with_its_year(how: str) -> None:
    shown = Template("{{ one|day:how }}")
    today = timezone.localdate()
    for year in (today.year - 1, today.year, today.year + 1):
        moment = dt.datetime(year, 6, 3, 12, 30, tzinfo=timezone.get_current_timezone())
        words = shown.render(Context({"one": moment, "how": how}))
        assert (str(year) in words) == (year != today.year), words
        assert "3 Ju" in words
        assert words.endswith("12:30") == how.endswith("H:i")
    assert shown.render(Context({"one": None, "how": how})) == ""


def test_no_template_writes_a_day_without_a_year() -> None:
    import re
    from pathlib import Path

    from django.conf import settings

    bare = [
        f"{path.name}: {how}"
        for path in Path(settings.BASE_DIR, "templates").rglob("*.html")
        for how in re.findall(r"\|date:[\"']([^\"']*)[\"']", path.read_text())
        if re.search(r"[jd]", how) and "Y" not in how
    ]
    assert set(bare) <= {"_due_date.html: j M"}  # the beginning of a range, which says its year at its end


def test_the_counter_shows_the_year_of_a_promise_that_is_not_this_years(counter: Client, shop: Shop) -> None:
    next_year = timezone.localdate().year + 1
    ticket = factories.TicketFactory(shop=shop, promised_on=dt.date(next_year, 3, 1))
    for address in (reverse("counter:ticket", args=[ticket.number]), reverse("counter:tickets")):
        assert f"1 Mar {next_year}" in counter.get(address).content.decode()
