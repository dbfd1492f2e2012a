"""A visit: booked one after the other, with its loose parts, shelf and parcel; joined and split by hand; its slip."""

from __future__ import annotations

import datetime as dt
import uuid
from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from tests.at_once import at_once
from tests.factories import (
    ConditionNoteFactory,
    CustomerFactory,
    SettingsRecordFactory,
    SuspensionUnitFactory,
    TicketFactory,
    UserFactory,
)
from tests.known import known
from tests.logbook import changed, logged
from tests.squeezed import squeezed
from workshop.documents.rendering import html_of
from workshop.documents.slip import gather_slip
from workshop.models import Customer, Ticket, User, Visit
from workshop.privacy.erasing import erase_customer
from workshop.tickets.refusals import UnlawfulMove
from workshop.tickets.visits import CameWith, join_visit, note_visit, others_of, promise_together, split_off
from workshop.web.versions import StaleVersion
from workshop.work.moving_over import Rightly, move_over

pytestmark = pytest.mark.django_db
WHY = "All of it stood in one box"
PARCEL = CameWith(
    loose=["axle", "pump"], loose_words="a red cap", shelf="B4", came_by="parcel", came_carrier="Swiftwheel",
    came_number="00 12 AX",
)  # fmt: skip


@pytest.fixture
def first() -> Ticket:
    made: Ticket = TicketFactory(number=71)
    return made


@pytest.fixture
def second(first: Ticket) -> Ticket:
    """Of the same customer, booked alone."""
    unit = SuspensionUnitFactory(shop=first.shop, customer=first.customer)
    made: Ticket = TicketFactory(shop=first.shop, customer=first.customer, unit=unit, number=72)
    return made


@pytest.fixture
def clerk(client: Client, first: Ticket) -> User:
    made: User = UserFactory(shop=first.shop)
    client.force_login(made)
    return made


def fresh(ticket: Ticket) -> Ticket:
    return Ticket.objects.select_related("visit", "customer", "unit", "bike", "shop").get(pk=ticket.pk)


def join(ticket: Ticket, beside: Ticket, reason: str = WHY, seen: int | None = None) -> None:
    now = fresh(ticket)
    join_visit(ticket=now, beside=fresh(beside), by=None, seen_version=seen or now.version, reason=reason)


class TestWhatCameWithIt:
    def test_it_is_kept_and_every_ticket_of_the_visit_says_so(self, first: Ticket, second: Ticket, clerk: User) -> None:
        join(second, first)
        visit = known(fresh(first).visit)
        note_visit(ticket=fresh(second), by=clerk, seen_version=visit.version, came_with=PARCEL)
        stored = Visit.objects.get()
        assert CameWith.of(stored) == PARCEL
        for ticket in (first, second):
            line = known(ticket.events.first())
            assert line.by == clerk
            assert changed(line) == {
                "Loose parts": ["none", "axle, pump"], "Other loose parts": ["none", "a red cap"],
                "Shelf": ["none", "B4"], "Came": ["over the counter", "by parcel, Swiftwheel, 00 12 AX"],
            }  # fmt: skip

    def test_a_ticket_alone_gets_its_visit_with_the_first_word_and_the_same_again_says_nothing(
        self, first: Ticket
    ) -> None:
        visit = note_visit(ticket=first, by=None, seen_version=0, came_with=CameWith(shelf="A1"))
        note_visit(ticket=first, by=None, seen_version=visit.version, came_with=CameWith(shelf=" A1 "))
        assert (first.events.filter(kind="visit_noted").count(), Visit.objects.count()) == (1, 1)

    def test_wrong_words_are_refused(self, first: Ticket) -> None:
        for wrong, where in (
            (CameWith(came_number="12"), "came_number"), (CameWith(goes_carrier="Swiftwheel"), "goes_carrier"),
            (CameWith(loose=["saddle"]), "loose"), (CameWith(shelf="x" * 41), "shelf"),
            (CameWith(came_by="pigeon"), "came_by"),
        ):  # fmt: skip
            with pytest.raises(ValidationError) as refused:
                note_visit(ticket=first, by=None, seen_version=0, came_with=wrong)
            assert where in refused.value.message_dict
        assert not Visit.objects.exists()

    def test_two_who_note_it_at_once(self, first: Ticket) -> None:
        note_visit(ticket=fresh(first), by=None, seen_version=0, came_with=CameWith(shelf="A1"))
        with pytest.raises(StaleVersion):
            note_visit(ticket=fresh(first), by=None, seen_version=0, came_with=CameWith(shelf="A2"))

    @pytest.mark.parametrize("way", ["came", "goes"])
    def test_the_database_knows_no_carrier_without_a_parcel(self, first: Ticket, way: str) -> None:
        visit = Visit.objects.create(shop=first.shop)
        with pytest.raises(IntegrityError), transaction.atomic():
            Visit.objects.filter(pk=visit.pk).update(**{f"{way}_carrier": "Swiftwheel"})


class TestJoiningAndSplitting:
    def test_both_ways_and_each_logbook_says_why(self, first: Ticket, second: Ticket) -> None:
        join(second, first)
        assert others_of(fresh(first)) == [second]
        for ticket in (first, second):
            assert logged(ticket)[0] == f"Ticket 72 put to ticket 71, one visit: {WHY}"
        now = fresh(second)
        split_off(ticket=now, by=None, seen_version=now.version, reason="It came a day later")
        assert others_of(fresh(first)) == others_of(fresh(second)) == []
        for ticket in (first, second):
            assert logged(ticket)[0] == "Ticket 72 taken out of the visit: It came a day later"

    def test_what_was_noted_of_either_alone_is_not_lost(self, first: Ticket, second: Ticket) -> None:
        note_visit(ticket=fresh(first), by=None, seen_version=0, came_with=CameWith(loose=["axle"], shelf="A1"))
        note_visit(ticket=fresh(second), by=None, seen_version=0, came_with=CameWith(loose=["pump"], shelf="B2"))
        join(second, first)
        assert known(fresh(second).visit) == known(fresh(first).visit)
        assert (known(fresh(first).visit).loose, known(fresh(first).visit).shelf) == (["axle", "pump"], "A1; B2")

    def test_a_third_joins_both_and_takes_what_is_noted_of_it_along(self, first: Ticket, second: Ticket) -> None:
        third = TicketFactory(shop=first.shop, customer=first.customer, unit__customer=first.customer, number=73)
        note_visit(ticket=third, by=None, seen_version=0, came_with=CameWith(loose=["wheel"]))
        join(second, first)
        join(third, second)
        assert others_of(fresh(third)) == [first, second]
        assert known(fresh(first).visit).loose == ["wheel"]

    def test_refusals(self, first: Ticket, second: Ticket) -> None:
        stranger = TicketFactory(shop=first.shop, number=74)
        with pytest.raises(UnlawfulMove, match="A visit is of one customer"):
            join(stranger, first)
        with pytest.raises(UnlawfulMove, match="one visit already"):
            join(first, first)
        with pytest.raises(ValidationError, match="Say why"):
            join(second, first, reason=" ")
        with pytest.raises(StaleVersion):
            join(second, first, seen=9)
        with pytest.raises(UnlawfulMove, match="came alone"):
            split_off(ticket=fresh(first), by=None, seen_version=1, reason=WHY)
        assert not Visit.objects.exists()
        join(second, first)
        with pytest.raises(UnlawfulMove, match="one visit already"):
            join(second, first)

    def test_moved_to_another_customer_it_leaves_the_visit(self, first: Ticket, second: Ticket) -> None:
        join(second, first)
        unit = SuspensionUnitFactory(shop=first.shop)
        now = fresh(second)
        move_over(ticket=now, by=None, seen_version=now.version, rightly=Rightly(unit.customer, unit), reason=WHY)
        assert fresh(second).visit is None
        assert others_of(fresh(first)) == []


class TestOneDayForAllOfIt:
    DAY = dt.timedelta(days=9)

    def test_each_open_ticket_is_promised_for_it_and_says_so(
        self, client: Client, clerk: User, first: Ticket, second: Ticket
    ) -> None:
        closed = TicketFactory(shop=first.shop, customer=first.customer, unit__customer=first.customer, number=73)
        for one in (second, closed):
            join(one, first)
        Ticket.objects.filter(pk=closed.pk).update(state="called_off")
        day = timezone.localdate() + self.DAY
        address, before = reverse("counter:together", args=[first.number]), fresh(second).version
        sent = {"one_day": "1", "seen_version": fresh(first).version, "one-day": day.isoformat()}
        assert "Promise them together" in client.get(address).content.decode()
        wrong = client.post(address, {**sent, "one-day": "2001-01-01"})
        assert (wrong.status_code, "2001-01-01" in wrong.content.decode()) == (422, True)
        far = (timezone.localdate() + dt.timedelta(days=200)).isoformat()
        asked = client.post(address, {**sent, "one-day": far})
        assert (asked.status_code, "is meant" in asked.content.decode()) == (422, True)
        assert client.post(address, {**sent, "seen_version": 99}).status_code == 409
        assert client.post(address, sent).status_code == 302
        assert [fresh(one).promised_on == day for one in (first, second, closed)] == [True, True, False]
        assert fresh(second).version == before + 1, "whoever has it open is told"
        for one in (first, second):
            line = known(one.events.first())
            assert (list(changed(line)), line.by) == (["Promised for"], clerk)
        assert f"{day:%a} {day.day}" in gather_slip(fresh(first), "")["units"][1]["promised"]

    def test_alone_or_closed_there_is_nothing_to_promise_together(self, first: Ticket, second: Ticket) -> None:
        day = timezone.localdate() + self.DAY
        for _ in range(2):
            now = fresh(first)
            with pytest.raises(ValidationError, match="Nothing else of this visit is open"):
                promise_together(ticket=now, by=None, seen_version=now.version, day=day)
            if now.visit is None:
                join(second, first)
                Ticket.objects.filter(pk=second.pk).update(state="called_off")
        assert fresh(first).promised_on != day


def typed(customer: Customer, **more: Any) -> dict[str, Any]:
    """A booking of a new shock in words."""
    day = timezone.localdate() + dt.timedelta(days=3)
    return {
        "client_id": str(uuid.uuid4()), "customer": customer.pk, "unit": "new", "unit-kind": "shock",
        "unit-described_as": "Harrowgate Lapwing", "bike": "none", "ticket-complaint_words": "Knocks",
        "ticket-promised_on": day.isoformat(), **more,
    }  # fmt: skip


class TestBooking:
    def test_one_more_keeps_customer_and_promise_and_sent_twice_books_once(
        self, client: Client, clerk: User, first: Ticket
    ) -> None:
        address = reverse("counter:book_in")
        sent = typed(first.customer, and_more="1")
        answer = client.post(address, sent)
        made = Ticket.objects.latest("pk")
        assert answer["Location"] == f"{address}?beside={made.number}"
        page = squeezed(client.get(answer["Location"]).content.decode())
        assert f'name="beside" value="{made.number}"' in page
        assert f'value="{made.promised_on.isoformat()}"' in page
        again = typed(first.customer, beside=made.number)
        for _ in range(2):
            assert client.post(address, again)["Location"] == reverse("counter:ticket", args=[made.number + 1])
        assert Ticket.objects.filter(shop=first.shop).count() == 3
        assert [other.number for other in others_of(fresh(made))] == [made.number + 1]

    def test_loose_parts_shelf_and_parcel_are_noted_with_it(self, client: Client, clerk: User, first: Ticket) -> None:
        more = {"visit-loose": ["axle", "pump"], "visit-loose_words": "a red cap", "visit-shelf": "B4"}
        wrong = client.post(reverse("counter:book_in"), typed(first.customer, **{**more, "visit-came_number": "1 A"}))
        assert (wrong.status_code, "Only a parcel has one" in wrong.content.decode()) == (422, True)
        assert "a red cap" in wrong.content.decode(), "nothing typed is lost"
        parcel = {"visit-came_by": "parcel", "visit-came_carrier": "Swiftwheel", "visit-came_number": "00 12 AX"}
        assert client.post(reverse("counter:book_in"), typed(first.customer, **more, **parcel)).status_code == 302
        assert CameWith.of(Ticket.objects.latest("pk").visit) == PARCEL

    def test_booked_alone_with_nothing_there_is_no_visit(self, client: Client, clerk: User, first: Ticket) -> None:
        assert client.post(reverse("counter:book_in"), typed(first.customer)).status_code == 302
        assert not Visit.objects.exists()

    def test_another_customer_and_a_closed_ticket_are_refused_in_words(
        self, client: Client, clerk: User, first: Ticket
    ) -> None:
        other = CustomerFactory(shop=first.shop)
        refused = client.post(reverse("counter:book_in"), typed(other, beside=first.number))
        assert (refused.status_code, "a visit is of one customer" in refused.content.decode()) == (422, True)
        Ticket.objects.filter(pk=first.pk).update(state="called_off")
        refused = client.post(reverse("counter:book_in"), typed(first.customer, beside=first.number))
        assert (refused.status_code, "it came with is closed" in refused.content.decode()) == (422, True)
        assert 'name="beside"' not in refused.content.decode()


class TestScreens:
    def test_the_ticket_shows_its_visit(self, client: Client, clerk: User, first: Ticket, second: Ticket) -> None:
        join(second, first)
        note_visit(ticket=fresh(first), by=None, seen_version=known(fresh(first).visit).version, came_with=PARCEL)
        page = squeezed(client.get(reverse("counter:ticket", args=[first.number])).content.decode())
        for words in ("Ticket 72:", "axle, pump, a red cap", "B4", "by parcel, Swiftwheel, 00 12 AX"):
            assert words in page
        assert f"{reverse('counter:book_in')}?beside=71" in page

    def test_noting_it_by_hand_and_somebody_quicker(self, client: Client, clerk: User, first: Ticket) -> None:
        address = reverse("counter:visit", args=[first.number])
        sent = {"seen_version": 0, "loose": ["axle"], "shelf": "A1", "came_by": "counter", "goes_by": "counter"}
        assert client.post(address, sent).status_code == 302
        late = client.post(address, {**sent, "shelf": "C9"})
        assert (late.status_code, "C9" in late.content.decode()) == (409, True)
        assert known(fresh(first).visit).shelf == "A1"
        assert 'value="A1"' in client.get(address).content.decode()

    def test_putting_together_and_taking_out(self, client: Client, clerk: User, first: Ticket, second: Ticket) -> None:
        address = reverse("counter:together", args=[second.number])
        assert address in client.get(reverse("counter:put_right", args=[second.number])).content.decode()
        assert "Ticket 71:" in client.get(address).content.decode()
        sent = {"seen_version": 1, "join": "1", "join-beside": first.pk}
        assert client.post(address, sent).status_code == 422
        late = client.post(address, {**sent, "seen_version": 5, "join-reason": WHY})
        assert (late.status_code, WHY in late.content.decode()) == (409, True)
        assert client.post(address, {**sent, "join-reason": WHY}).status_code == 302
        assert others_of(fresh(first)) == [second]
        assert client.post(address, {"seen_version": 2, "split": "1", "split-reason": WHY}).status_code == 302
        assert others_of(fresh(first)) == []
        again = client.post(address, {"seen_version": 3, "split": "1", "split-reason": WHY})
        assert (again.status_code, "came alone" in again.content.decode()) == (422, True)

    def test_pages_ask_as_often_however_many_came_together(
        self, client: Client, clerk: User, first: Ticket, second: Ticket
    ) -> None:
        join(second, first)
        addresses = [reverse(f"counter:{name}", args=[first.number]) for name in ("ticket", "visit", "together")]

        def count() -> list[int]:
            counts = []
            for address in addresses:
                with CaptureQueriesContext(connection) as asked:
                    assert client.get(address).status_code == 200
                counts.append(len(asked))
            return counts

        unit = SuspensionUnitFactory(shop=first.shop, customer=first.customer)
        TicketFactory(shop=first.shop, customer=first.customer, unit=unit, number=79)
        count()  # whatever a process asks once
        few = count()
        for number in range(80, 85):
            unit = SuspensionUnitFactory(shop=first.shop, customer=first.customer)
            more = TicketFactory(shop=first.shop, customer=first.customer, unit=unit, number=number)
            if number % 2:
                join(more, first)
        assert count() == few


@pytest.mark.django_db(transaction=True)
def test_two_put_together_at_once_are_of_one_visit(first: Ticket, second: Ticket) -> None:
    third = TicketFactory(shop=first.shop, customer=first.customer, unit__customer=first.customer, number=73)
    pair = (second, third)
    at_once(lambda number: join(pair[number], first), 2)
    assert others_of(fresh(first)) == [second, third]


class TestTheSlip:
    def test_it_says_what_came_in_and_nothing_else(self, first: Ticket, second: Ticket) -> None:
        first.shop.slip_terms = "We keep it ninety days.\nThen we ask."
        first.shop.save()
        Ticket.objects.filter(pk=first.pk).update(price_ceiling=Decimal("120.00"))
        ConditionNoteFactory(ticket=first, place="Crown", text="Dent by the bolt")
        SettingsRecordFactory(ticket=first)
        join(second, first)
        note_visit(ticket=fresh(first), by=None, seen_version=known(fresh(first).visit).version, came_with=PARCEL)
        data = gather_slip(fresh(second), "")
        text = squeezed(html_of("documents/slip.html", data))
        for words in (
            "71 · 72", "Crown: Dent by the bolt", "Rebound, clicks from closed: 7", "Up to <strong>120.00 EUR",
            "No price limit was recorded for this one.", "axle, pump, a red cap", "We keep it ninety days.",
            "by parcel, Swiftwheel, 00 12 AX",
        ):  # fmt: skip
            assert squeezed(words) in text, words
        assert text.count("No marks or damage were recorded.") == 1

    def test_of_a_ticket_alone_what_is_missing_is_shown_as_missing(self, first: Ticket) -> None:
        Ticket.objects.filter(pk=first.pk).update(no_limit_said=True)
        text = html_of("documents/slip.html", gather_slip(fresh(first), ""))
        assert "You set no price limit when you brought it in." in text
        assert "No loose parts were recorded." in text
        assert "Our terms" not in text
        assert "It came" not in text


def test_erasing_takes_words_and_parcel_numbers_of_the_visit(first: Ticket) -> None:
    note_visit(ticket=first, by=None, seen_version=0, came_with=PARCEL)
    Ticket.objects.filter(pk=first.pk).update(state="called_off")
    erase_customer(customer=first.customer, by=None)
    visit = Visit.objects.get()
    left = str([visit.loose_words, visit.came_carrier, visit.came_number, *map(changed, first.events.all())])
    for word in ("red cap", "Swiftwheel", "00 12"):
        assert word not in left
    assert visit.loose == ["axle", "pump"]
