"""The earliest honest day with its reasons, promises in danger, and the bench's hours on the screen."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pytest_django import DjangoAssertNumQueries

from diagnosis.models import Checklist
from tests.factories import (
    ChecklistFactory,
    KitLineFactory,
    PartLineFactory,
    RunFactory,
    ServiceKitFactory,
    ShopFactory,
    StepFactory,
    StockItemFactory,
    StockMovementFactory,
    SuspensionUnitFactory,
    TicketFactory,
    TicketRunFactory,
    TickFactory,
    UserFactory,
)
from workshop.models import BenchCapacity, ClosedDay, PurchaseOrder, Shop, Ticket
from workshop.promise.capacity import set_capacity
from workshop.promise.closed import close_day
from workshop.promise.honest import earliest_day, promises_in_danger
from workshop.promise.queued import queued_minutes, queued_tickets
from workshop.stock.ordering import place_order

pytestmark = pytest.mark.django_db
WEDNESDAY = dt.date(2026, 11, 25)


@pytest.fixture
def shop() -> Shop:
    made: Shop = ShopFactory()
    capacity(made)
    return made


def capacity(shop: Shop, seen: int = 0, **changes: Any) -> BenchCapacity:
    fields: dict[str, Any] = {
        "mechanics": 1, "hours_a_day": Decimal(5), "closed_weekdays": [5, 6], "usual_minutes": 60,
        "unknown_lead_days": 10,
    }  # fmt: skip
    return set_capacity(shop=shop, seen_version=seen, **{**fields, **changes})


def expected_on(order: PurchaseOrder, day: dt.date) -> None:
    PurchaseOrder.objects.filter(pk=order.pk).update(expected_on=day)


class TestMinutes:
    def test_open_steps_of_runs_and_checklists_to_come(self, shop: Shop) -> None:
        ticket = TicketFactory(shop=shop)
        begun, to_come = ChecklistFactory(), ChecklistFactory()
        done, left = StepFactory(checklist=begun, minutes=10), StepFactory(checklist=begun, minutes=7)
        StepFactory(checklist=to_come, minutes=20)
        run = RunFactory(checklist=begun)
        TicketRunFactory(ticket=ticket, run=run)
        TickFactory(run=run, step=done)
        ticket.complaints.set([begun.complaint, to_come.complaint])
        assert left.minutes == 7
        assert queued_minutes(shop, queued_tickets(shop), 60) == {ticket.pk: 27}

    def test_once_something_is_found_no_more_checks_are_reckoned_with(self, shop: Shop) -> None:
        ticket, checklist = TicketFactory(shop=shop), ChecklistFactory()
        check = StepFactory(checklist=checklist, minutes=10)
        StepFactory(checklist=checklist, minutes=9)
        StepFactory(checklist=checklist, minutes=4, kind="work")
        run = RunFactory(checklist=checklist)
        TicketRunFactory(ticket=ticket, run=run)
        TickFactory(run=run, step=check, outcome="found")
        assert queued_minutes(shop, queued_tickets(shop), 60) == {ticket.pk: 4}

    def test_what_was_opened_again_is_to_be_closed_again(self, shop: Shop) -> None:
        ticket, checklist = TicketFactory(shop=shop), ChecklistFactory()
        out, back = (
            StepFactory(
                checklist=checklist, kind="work", minutes=minutes, answers={"done": {"leaves": {"wheel": left}}}
            )
            for minutes, left in ((3, "out"), (6, "in"))
        )
        run = RunFactory(checklist=checklist, facts={"kind": "fork"})
        TicketRunFactory(ticket=ticket, run=run)
        for step in (out, back):
            TickFactory(run=run, step=step, outcome="done")
        assert queued_minutes(shop, queued_tickets(shop), 60) == {ticket.pk: 0}
        TickFactory(run=run, step=out, outcome="done")
        assert queued_minutes(shop, queued_tickets(shop), 60) == {ticket.pk: 6}

    def test_what_was_taken_back_is_to_be_done(self, shop: Shop) -> None:
        ticket, step = TicketFactory(shop=shop), StepFactory(minutes=10)
        run = RunFactory(checklist=step.checklist)
        TicketRunFactory(ticket=ticket, run=run)
        TickFactory(run=run, step=step)
        assert queued_minutes(shop, queued_tickets(shop), 60) == {ticket.pk: 0}
        TickFactory(run=run, step=step, outcome="taken_back")
        assert queued_minutes(shop, queued_tickets(shop), 60) == {ticket.pk: 10}

    def test_a_ticket_without_a_checklist_takes_the_usual_minutes(self, shop: Shop) -> None:
        ticket = TicketFactory(shop=shop)
        TicketFactory(shop=shop, state="ready")
        assert queued_minutes(shop, queued_tickets(shop), 60) == {ticket.pk: 60}


class TestHonestDay:
    def test_the_queue_is_the_reason(self, shop: Shop) -> None:
        for _ in range(5):
            TicketFactory(shop=shop)  # 5 × 60 min are one day of 5 h
        honest = earliest_day(shop, WEDNESDAY)
        assert honest.day == dt.date(2026, 11, 27)
        assert honest.reasons[0] == "5 h of work on 5 tickets come first, one mechanic at 5 h a day."

    def test_short_wipers_are_the_reason(self, shop: Shop) -> None:
        unit = SuspensionUnitFactory(shop=shop)
        item = StockItemFactory(shop=shop, lead_days=6, part__description="Wiper, 36 mm")
        KitLineFactory(kit=ServiceKitFactory(model=unit.model), part=item.part)
        honest = earliest_day(shop, WEDNESDAY, model_pk=unit.model_id)
        assert honest.day == dt.date(2026, 12, 2)  # they come on Tuesday, 1 December
        assert (
            honest.reasons[-1]
            == "Not there: Wiper, 36 mm takes 6 days to come (needed: as likely as not, about 5 in 10)."
        )
        StockMovementFactory(item=item)
        assert earliest_day(shop, WEDNESDAY, model_pk=unit.model_id).day == dt.date(2026, 11, 26)

    def test_wipers_kept_for_other_tickets_are_short(self, shop: Shop) -> None:
        unit = SuspensionUnitFactory(shop=shop)
        item = StockMovementFactory(item__shop=shop, item__lead_days=None, quantity=2).item
        KitLineFactory(kit=ServiceKitFactory(model=unit.model), part=item.part)
        PartLineFactory(ticket=TicketFactory(shop=shop), part=item.part, quantity=1)
        assert "takes 10 days" in earliest_day(shop, WEDNESDAY, model_pk=unit.model_id).reasons[-1]

    def test_what_is_on_order_and_not_spoken_for_comes_on_the_day_that_is_expected(self, shop: Shop) -> None:
        unit = SuspensionUnitFactory(shop=shop)
        item = StockItemFactory(shop=shop, supplier="North", lead_days=20, part__description="Wiper, 36 mm")
        KitLineFactory(kit=ServiceKitFactory(model=unit.model), part=item.part, quantity=2)
        order = place_order(shop=shop, supplier="North", quantities={item.pk: Decimal(3)}, by=None)
        expected_on(order, WEDNESDAY + dt.timedelta(days=5))
        honest = earliest_day(shop, WEDNESDAY, model_pk=unit.model_id)
        assert honest.day == dt.date(2026, 12, 1)
        assert honest.reasons[-1] == (
            "Not there: Wiper, 36 mm comes with order 1, expected Mon 30 Nov (needed: as likely as not, about 5 in 10)."
        )
        PartLineFactory(ticket=TicketFactory(shop=shop), part=item.part, quantity=2)
        assert "takes 20 days" in earliest_day(shop, WEDNESDAY, model_pk=unit.model_id).reasons[-1]

    def test_a_holiday_moves_it(self, shop: Shop) -> None:
        close_day(shop=shop, day=dt.date(2026, 11, 26), why="Holiday")
        assert earliest_day(shop, WEDNESDAY).day == dt.date(2026, 11, 27)

    def test_its_own_checklist_counts(self, shop: Shop) -> None:
        checklist = ChecklistFactory()
        StepFactory(checklist=checklist, minutes=45)
        honest = earliest_day(shop, WEDNESDAY, complaints=[checklist.complaint_id])
        assert honest.reasons[1] == "Its own work usually takes 45 min."


class TestInDanger:
    def test_a_promise_behind_a_full_bench(self, shop: Shop) -> None:
        capacity(shop, seen=1, usual_minutes=300)
        first = TicketFactory(shop=shop, promised_on=WEDNESDAY + dt.timedelta(days=1))
        second = TicketFactory(shop=shop, promised_on=WEDNESDAY + dt.timedelta(days=1))
        (danger,) = promises_in_danger(shop, WEDNESDAY)
        assert first.number < second.number
        assert (danger.ticket_pk, danger.day) == (second.pk, dt.date(2026, 11, 27))
        assert danger.reason == "earlier jobs run until then"

    def test_a_promise_that_waits_for_a_part(self, shop: Shop) -> None:
        item = StockItemFactory(shop=shop, supplier="North", lead_days=6, part__description="Wiper, 36 mm")
        ticket = TicketFactory(shop=shop, promised_on=WEDNESDAY + dt.timedelta(days=2))
        PartLineFactory(ticket=ticket, part=item.part)
        (danger,) = promises_in_danger(shop, WEDNESDAY)
        assert (danger.day, danger.reason) == (dt.date(2026, 12, 2), "Wiper, 36 mm takes 6 days to come")

    def test_an_order_that_comes_in_time_keeps_the_promise(self, shop: Shop) -> None:
        item = StockItemFactory(shop=shop, supplier="North", lead_days=6, part__description="Wiper, 36 mm")
        ticket = TicketFactory(shop=shop, promised_on=WEDNESDAY + dt.timedelta(days=2))
        PartLineFactory(ticket=ticket, part=item.part, quantity=2)
        order = place_order(shop=shop, supplier="North", quantities={item.pk: Decimal(2)}, by=None)
        expected_on(order, WEDNESDAY + dt.timedelta(days=1))  # ordered days ago: it comes tomorrow
        assert promises_in_danger(shop, WEDNESDAY) == []
        expected_on(order, WEDNESDAY + dt.timedelta(days=5))
        (danger,) = promises_in_danger(shop, WEDNESDAY)
        assert (danger.day, danger.reason) == (
            dt.date(2026, 12, 1), "Wiper, 36 mm comes with order 1, expected Mon 30 Nov",
        )  # fmt: skip

    def test_a_promise_that_holds_is_not_there(self, shop: Shop) -> None:
        TicketFactory(shop=shop, promised_on=WEDNESDAY + dt.timedelta(days=2))
        assert promises_in_danger(shop, WEDNESDAY) == []

    def test_many_tickets_take_as_many_queries_as_one(
        self, shop: Shop, django_assert_num_queries: DjangoAssertNumQueries
    ) -> None:
        checklist = ChecklistFactory()
        Checklist.objects.update(made_at=timezone.now() - dt.timedelta(days=1))  # its steps are kept once it is final
        checklist.refresh_from_db()
        for _ in range(6):
            ticket = TicketFactory(shop=shop)
            TicketRunFactory(ticket=ticket, run__checklist=checklist)
            PartLineFactory(ticket=ticket)
        promises_in_danger(shop, WEDNESDAY)  # what was learned of complaints is kept from here on
        with django_assert_num_queries(12):
            promises_in_danger(shop, WEDNESDAY)


class TestCapacity:
    @pytest.mark.parametrize(
        ("changes", "field"),
        [
            ({"mechanics": 0}, "mechanics"),
            ({"hours_a_day": Decimal(0)}, "hours_a_day"),
            ({"hours_a_day": Decimal(25)}, "hours_a_day"),
            ({"closed_weekdays": range(7)}, "closed_weekdays"),
            ({"closed_weekdays": [9]}, "closed_weekdays"),
        ],
    )
    def test_hours_that_cannot_be_are_refused(self, shop: Shop, changes: dict[str, Any], field: str) -> None:
        with pytest.raises(ValidationError) as refused:
            capacity(shop, seen=1, **changes)
        assert field in refused.value.message_dict
        assert BenchCapacity.objects.get().version == 1

    def test_a_day_is_closed_once(self, shop: Shop) -> None:
        close_day(shop=shop, day=WEDNESDAY)
        with pytest.raises(ValidationError, match="closed already"):
            close_day(shop=shop, day=WEDNESDAY)


class TestScreens:
    @pytest.fixture
    def owner(self, client: Client, shop: Shop) -> None:
        client.force_login(UserFactory(shop=shop, owner=True))

    def test_the_owner_sets_the_hours(self, client: Client, owner: None) -> None:
        data = {
            "seen_version": "1", "mechanics": "2", "hours_a_day": "6.5", "closed_weekdays": ["0", "6"],
            "usual_minutes": "80", "unknown_lead_days": "7",
        }  # fmt: skip
        assert client.post(reverse("office:hours"), data).status_code == 302
        stored = BenchCapacity.objects.get()
        assert (stored.mechanics, stored.hours_a_day, stored.closed_weekdays) == (2, Decimal("6.5"), [0, 6])
        data |= {"seen_version": "2", "closed_weekdays": [str(one) for one in range(7)], "unknown_lead_days": "-3"}
        answer = client.post(reverse("office:hours"), data)
        assert answer.status_code == 422
        assert "Leave at least one day open" in answer.content.decode()
        assert "Days cannot be less than 0" in answer.content.decode()

    def test_days_are_closed_and_opened(self, client: Client, owner: None) -> None:
        day = (timezone.localdate() + dt.timedelta(days=9)).isoformat()
        client.post(reverse("office:close_day"), {"day": day, "why": "Holiday"})
        answer = client.post(reverse("office:close_day"), {"day": day})
        assert answer.status_code == 422
        assert "closed already" in answer.content.decode()
        client.post(reverse("office:open_day"), {"day": day})
        assert not ClosedDay.objects.exists()

    def test_the_booking_page_says_the_day_and_why(self, client: Client, owner: None, shop: Shop) -> None:
        page = client.get(reverse("counter:book_in")).content.decode()
        assert 'hx-trigger="load, change' in page
        assert "is the earliest realistic day" in client.post(reverse("counter:book_in_promise")).content.decode()
        assert "is the earliest realistic day" in client.post(reverse("counter:book_in_look_up")).content.decode()
        unit = SuspensionUnitFactory(shop=shop)
        KitLineFactory(kit=ServiceKitFactory(model=unit.model), part__description="Wiper, 36 mm")
        data = {"customer": unit.customer_id, "unit": unit.pk, "ticket-complaints": ["999999999", "x"]}
        part = client.post(reverse("counter:book_in_promise"), data).content.decode()
        assert "Not there: Wiper, 36 mm takes 10 days to come, as far as is known (needed: as likely" in part

    def test_the_counter_sees_which_promise_will_not_hold(self, client: Client, owner: None, shop: Shop) -> None:
        tomorrow = timezone.localdate() + dt.timedelta(days=1)
        ticket = TicketFactory(shop=shop, promised_on=tomorrow)
        PartLineFactory(ticket=ticket, part=None, words="Odd circlip")
        assert reverse("counter:outlook") in client.get(reverse("counter:today")).content.decode()
        page = client.get(reverse("counter:outlook")).content.decode()
        assert "Promises at risk" in page
        assert "Odd circlip takes 10 days to come" in page
        Ticket.objects.update(state="ready")
        page = client.get(reverse("counter:outlook")).content.decode()
        assert "Every promise can be kept as things stand." in page
        assert "Odd circlip" not in page
