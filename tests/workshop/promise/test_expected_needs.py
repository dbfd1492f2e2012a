"""What a ticket is expected to need from the day it is booked in: how likely, until when, and on which screens."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from django.core.cache import cache
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from diagnosis.models import Checklist, Tick
from specs.models import KitLine, Part
from specs.stand_ins import set_stand_in
from tests.factories import (
    CauseFactory,
    ChecklistFactory,
    ComplaintFactory,
    DocumentFactory,
    KitLineFactory,
    PartFactory,
    PartLineFactory,
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
from workshop.models import Agreement, PartLine, Shop, StockItem, Ticket, User
from workshop.promise.expected import ExpectedOfPart, expected_in_stores, expected_needs
from workshop.promise.honest import earliest_day, promise_of
from workshop.promise.queued import queued_tickets
from workshop.promise.wanted_parts import OF_A_SERVICE
from workshop.work.adding_parts import add_from_kit
from workshop.work.moves import move
from workshop.work.parts_learned import KEPT_SECONDS

pytestmark = pytest.mark.django_db
DAY = dt.timedelta(days=1)
FOUND = Tick.Outcome.FOUND


@pytest.fixture
def shop() -> Shop:
    made: Shop = ShopFactory()
    return made


@pytest.fixture
def wipers(shop: Shop) -> KitLine:
    """The line of a lowers kit: two wipers, which the shop keeps and has none of; they take twenty days to come."""
    made: KitLine = KitLineFactory(kit=ServiceKitFactory(), part__role="wiper", part__description="Dust wiper")
    StockItemFactory(shop=shop, part=made.part, supplier="North", lead_days=20)
    return made


@pytest.fixture
def service() -> Checklist:
    """A service of the lowers."""
    made: Checklist = ChecklistFactory(complaint=ComplaintFactory(is_routine=True), priors={})
    StepFactory(checklist=made, services=["lowers"])
    return made


@pytest.fixture
def search() -> Checklist:
    """Three times in four it is torn wipers."""
    made: Checklist = ChecklistFactory(priors={"torn": 6, "dirt": 2})
    parts = [{"role": "wiper", "quantity": 2}]
    StepFactory(checklist=made, key="look", ends_search={"torn": 0.9}, answers={"found": {"parts": parts}})
    StepFactory(checklist=made, key="wipe", ends_search={"dirt": 0.9}, answers={"found": {}})
    return made


def booked(shop: Shop, kit: KitLine, *checklists: Checklist, **fields: Any) -> Ticket:
    unit = SuspensionUnitFactory(shop=shop, model=kit.kit.model)
    ticket: Ticket = TicketFactory(shop=shop, customer=unit.customer, unit=unit, **fields)
    ticket.complaints.set([one.complaint for one in checklists])
    return ticket


def expected(shop: Shop) -> list[tuple[int, float, float]]:
    """Ticket, quantity and chance of each want."""
    needs = expected_needs(shop, queued_tickets(shop))
    return [(one.ticket_pk, float(one.quantity), round(one.chance, 6)) for its in needs.wants.values() for one in its]


def of_wipers(shop: Shop) -> ExpectedOfPart:
    (one,) = expected_in_stores(shop).values()
    return one


class TestFromTheDayOfBooking:
    def test_a_service_takes_its_kit(self, shop: Shop, wipers: KitLine, service: Checklist) -> None:
        ticket = booked(shop, wipers, service)
        assert expected(shop) == [(ticket.pk, 2, 0.95)]

    def test_a_complaint_as_often_as_its_causes_say(self, shop: Shop, wipers: KitLine, search: Checklist) -> None:
        ticket = booked(shop, wipers, search)
        assert expected(shop) == [(ticket.pk, 2, 0.75)]

    def test_two_reasons_for_one_part_make_it_likelier_and_not_more(
        self, shop: Shop, wipers: KitLine, service: Checklist, search: Checklist
    ) -> None:
        ticket = booked(shop, wipers, service, search)
        assert expected(shop) == [(ticket.pk, 2, 1 - 0.05 * 0.25)]

    def test_a_kit_of_another_service_is_not_its_kit(self, shop: Shop, wipers: KitLine, service: Checklist) -> None:
        wipers.kit.level = "full"
        wipers.kit.save()
        booked(shop, wipers, service)
        assert expected(shop) == []

    def test_words_alone_leave_it_open(self, shop: Shop, wipers: KitLine) -> None:
        ticket = booked(shop, wipers)
        assert expected(shop) == [(ticket.pk, 2, 0.5)]

    def test_the_booking_is_told_what_its_ticket_is(self, shop: Shop, wipers: KitLine, search: Checklist) -> None:
        today = timezone.localdate()
        heard = earliest_day(shop, today, complaints=[search.complaint_id], model_pk=wipers.kit.model_id)
        danger = promise_of(booked(shop, wipers, search, promised_on=today + DAY), today)
        assert danger is not None
        assert heard.reasons[-1] == f"Not there: {danger.reason}."
        assert "needed: likely, about 8 in 10" in danger.reason


class TestTheShopsOwnTickets:
    def closed(self, shop: Shop, kit: KitLine, *checklists: Checklist, used: bool) -> None:
        ticket = booked(shop, kit, *checklists, state="handed_back")
        status = PartLine.Status.USED if used else PartLine.Status.DROPPED
        PartLineFactory(ticket=ticket, part=kit.part, status=status)

    def test_they_are_added_to_what_is_shipped(self, shop: Shop, wipers: KitLine, search: Checklist) -> None:
        for used in (True, False, False, False):
            self.closed(shop, wipers, search, used=used)
        ticket = booked(shop, wipers, search)
        assert expected(shop) == [(ticket.pk, 2, round((6 + 1) / (8 + 4), 6))]

    def test_those_with_several_complaints_or_of_another_shop_say_nothing(
        self, shop: Shop, wipers: KitLine, search: Checklist, service: Checklist
    ) -> None:
        self.closed(shop, wipers, search, service, used=True)
        self.closed(ShopFactory(), wipers, service, used=False)
        ticket = booked(shop, wipers, service)
        assert expected(shop) == [(ticket.pk, 2, OF_A_SERVICE.after(0, 0))]

    def test_they_are_read_again_after_some_minutes(self, shop: Shop, wipers: KitLine, service: Checklist) -> None:
        ticket = booked(shop, wipers, service)
        assert expected(shop) == [(ticket.pk, 2, 0.95)]
        self.closed(shop, wipers, service, used=False)
        assert expected(shop) == [(ticket.pk, 2, 0.95)]
        cache.clear()  # as after KEPT_SECONDS
        assert KEPT_SECONDS == 600
        assert expected(shop) == [(ticket.pk, 2, round(4.75 / 6, 6))]


class TestUntilWhen:
    def test_the_kit_on_the_ticket_makes_it_firm(self, shop: Shop, wipers: KitLine, service: Checklist) -> None:
        ticket = booked(shop, wipers, service)
        add_from_kit(ticket=ticket, level="lowers", by=None)
        assert expected(shop) == []

    def test_a_part_that_was_dropped_is_not_expected_again(
        self, shop: Shop, wipers: KitLine, service: Checklist
    ) -> None:
        ticket = booked(shop, wipers, service)
        PartLineFactory(ticket=ticket, part=wipers.part, status="dropped")
        assert expected(shop) == []

    def test_another_part_ends_a_search_and_no_service(
        self, shop: Shop, wipers: KitLine, service: Checklist, search: Checklist
    ) -> None:
        for checklist in (service, search):
            PartLineFactory(ticket=booked(shop, wipers, checklist))
        assert [chance for _, _, chance in expected(shop)] == [0.95]

    def test_a_cause_that_asks_for_no_part_ends_it_until_it_is_taken_back(
        self, shop: Shop, wipers: KitLine, search: Checklist
    ) -> None:
        ticket = booked(shop, wipers, search)
        run = TicketRunFactory(ticket=ticket, run__checklist=search).run
        step = search.steps.get(key="wipe")
        TickFactory(run=run, step=step, outcome=FOUND, cause=CauseFactory(key="dirt"))
        assert expected(shop) == []
        TickFactory(run=run, step=step, outcome=Tick.Outcome.TAKEN_BACK)
        assert expected(shop) == [(ticket.pk, 2, 0.75)]

    @pytest.mark.parametrize("answers", [[False], [True, False], [False, True], [True]])
    def test_a_no_ends_it_and_a_later_yes_brings_it_back(
        self, shop: Shop, wipers: KitLine, service: Checklist, answers: list[bool]
    ) -> None:
        ticket = booked(shop, wipers, service)
        estimate = DocumentFactory(ticket=ticket, kind="estimate")
        for agreed in answers:
            Agreement.objects.create(
                document=estimate, ticket=ticket, agreed=agreed, amount=100, data_digest="0" * 64, how="phone",
                said_by="The customer", at=timezone.now(),
            )  # fmt: skip
        assert bool(expected(shop)) is answers[-1]

    def test_a_calling_off_ends_it(self, shop: Shop, wipers: KitLine, service: Checklist) -> None:
        ticket = booked(shop, wipers, service)
        move(
            ticket=ticket, to_state="called_off", by=UserFactory(shop=shop, owner=True), seen_version=ticket.version,
            reason="Sold it",
        )  # fmt: skip
        assert expected(shop) == []

    @pytest.mark.parametrize("state", ["ready", "handed_back"])
    def test_what_is_done_needs_nothing_more(self, shop: Shop, wipers: KitLine, service: Checklist, state: str) -> None:
        booked(shop, wipers, service, state=state)
        assert expected(shop) == []


class TestSupersededParts:
    @pytest.fixture
    def successor(self, shop: Shop, wipers: KitLine) -> Part:
        """Took the place of the wipers, of which none are left."""
        made: Part = PartFactory(role="wiper", description="Newer wiper")
        StockItemFactory(shop=shop, part=made, supplier="North", lead_days=3)
        set_stand_in(part=wipers.part, other=made, kind="superseded", reason="No longer made")
        return made

    def test_what_took_its_place_is_expected(
        self, shop: Shop, wipers: KitLine, service: Checklist, successor: Part
    ) -> None:
        booked(shop, wipers, service)
        assert of_wipers(shop).part == successor
        StockMovementFactory(item=StockItem.objects.get(part=wipers.part), quantity=2)
        assert of_wipers(shop).part == wipers.part  # as long as there are enough of the old ones

    def test_on_the_ticket_it_ends_the_expectation_of_the_other(
        self, shop: Shop, wipers: KitLine, service: Checklist, successor: Part
    ) -> None:
        by_kit, by_hand = booked(shop, wipers, service), booked(shop, wipers, service)
        add_from_kit(ticket=by_kit, level="lowers", by=None)
        assert by_kit.part_lines.get().part == successor
        PartLineFactory(ticket=by_hand, part=successor)
        assert expected(shop) == []


class TestInTheStores:
    def test_amounts_are_summed_and_firm_lines_come_first(
        self, shop: Shop, wipers: KitLine, service: Checklist, search: Checklist
    ) -> None:
        booked(shop, wipers, service)
        booked(shop, wipers, search)
        StockMovementFactory(item=StockItem.objects.get(), quantity=3)
        one = of_wipers(shop)
        assert (one.amount, one.most) == (Decimal("3.4"), Decimal(4))  # 2 × 0.95 + 2 × 0.75
        assert one.chance_short == pytest.approx(0.95 * 0.75)  # both, for three cover one of them
        assert one.short_words == "likely, about 7 in 10"
        assert [share.missing for share in one.shares] == [0, 1]
        PartLineFactory(ticket=TicketFactory(shop=shop, promised_on=timezone.localdate() + 90 * DAY),
                        part=wipers.part, quantity=2)  # fmt: skip
        assert [share.missing for share in of_wipers(shop).shares] == [1, 2]

    def test_one_that_is_unlikely_holds_up_nobody(self, shop: Shop, wipers: KitLine, search: Checklist) -> None:
        Checklist.objects.filter(pk=search.pk).update(priors={"torn": 2, "dirt": 6})
        ticket = booked(shop, wipers, search, promised_on=timezone.localdate() + 5 * DAY)
        assert (of_wipers(shop).amount, of_wipers(shop).shares) == (Decimal("0.5"), [])
        assert promise_of(ticket, timezone.localdate()) is None

    def test_a_part_that_is_not_kept_is_lacking(self, shop: Shop, wipers: KitLine, service: Checklist) -> None:
        StockItem.objects.all().delete()
        booked(shop, wipers, service)
        assert of_wipers(shop).row is None
        assert [want.chance for want in of_wipers(shop).lacking] == [0.95]

    def test_as_many_queries_for_many_as_for_one(
        self, shop: Shop, wipers: KitLine, service: Checklist, search: Checklist
    ) -> None:
        searches = [ChecklistFactory(priors={"torn": 1}) for _ in range(4)]
        Checklist.objects.update(made_at=timezone.now() - DAY)  # its steps are kept once it is final

        def queries() -> int:
            expected_in_stores(shop)  # what was learned is kept from here on
            with CaptureQueriesContext(
                connection,
            ) as asked:
                expected_in_stores(shop)
            return len(asked)

        for one in (service, search):
            TicketRunFactory(ticket=booked(shop, wipers, one), run__checklist=one)
        few = queries()
        for one in (service, search, *searches):
            other = KitLineFactory(kit=ServiceKitFactory(), part__role="wiper")
            TicketRunFactory(ticket=booked(shop, other, one), run__checklist=one)
        assert queries() == few


class TestOneAnswerOnEveryScreen:
    @pytest.fixture
    def owner(self, client: Client, shop: Shop) -> User:
        made: User = UserFactory(shop=shop, owner=True)
        client.force_login(made)
        return made

    @pytest.mark.parametrize(("promised", "mark"), [(-1, "Overdue"), (0, "Due today"), (4, "Will not hold")])
    def test_the_same_mark_and_the_same_reason(
        self, client: Client, owner: User, shop: Shop, wipers: KitLine, service: Checklist, promised: int, mark: str
    ) -> None:
        today = timezone.localdate()
        ticket = booked(shop, wipers, service, promised_on=today + promised * DAY, state="on_the_bench", mechanic=owner)
        danger = promise_of(ticket, today)
        assert danger is not None
        assert danger.reason == "Dust wiper takes 20 days to come (needed: almost certain)"
        for address in (
            reverse("counter:ticket", args=[ticket.number]),
            reverse("bench:ticket", args=[ticket.number]),
            reverse("counter:outlook"),
            reverse("bench:board"),
            reverse("office:overview"),
        ):
            page = client.get(address).content.decode()
            assert mark in page, address
            assert f"{danger.day:%a} {danger.day.day} {danger.day:%b}: {danger.reason}." in page, address
