"""No part vanishes from bill and stock: before ready and before hand-back each is said to be used or not."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from tests.at_once import at_once
from tests.factories import PartLineFactory, StepFactory, StockMovementFactory, TicketFactory, UserFactory
from workshop.models import FinalCharges, Shop, StockItem, Ticket, User
from workshop.stock.moving import level_of
from workshop.stock.shortages import stores_standing
from workshop.tickets.models import PartLine
from workshop.tickets.settings_record import Settings
from workshop.work.adding_parts import add_from_answer
from workshop.work.hand_back import hand_back
from workshop.work.moves import move
from workshop.work.unresolved import PartAnswer, PartAnswersRefused, PartsUnresolved, resolve_parts

pytestmark = pytest.mark.django_db


@pytest.fixture
def item() -> StockItem:
    """Ten wipers at 11.50 are there."""
    made: StockItem = StockMovementFactory(
        item__price=Decimal("11.50"), item__part__description="Wiper, 36 mm", quantity=10
    ).item
    return made


@pytest.fixture
def shop(item: StockItem) -> Shop:
    return item.shop


@pytest.fixture
def ticket(shop: Shop) -> Ticket:
    made: Ticket = TicketFactory(shop=shop, state="on_the_bench")
    return made


@pytest.fixture
def line(ticket: Ticket, item: StockItem) -> PartLine:
    made: PartLine = PartLineFactory(ticket=ticket, part=item.part, quantity=2, unit_price=item.price, source="finding")
    return made


@pytest.fixture
def owner(client: Client, shop: Shop) -> User:
    made: User = UserFactory(shop=shop, owner=True)
    client.force_login(made)
    return made


def answered(line: PartLine, became: str, quantity: str = "2") -> dict[str, str]:
    return {
        "parts_asked": "1", f"became-{line.pk}": became, f"quantity-{line.pk}": quantity, f"seen-{line.pk}": "2",
    }  # fmt: skip


class TestTheRule:
    @pytest.mark.parametrize(("state", "to_state"), [("on_the_bench", "ready"), ("ready", "handed_back")])
    def test_a_part_nobody_answered_for_refuses(
        self, ticket: Ticket, line: PartLine, state: str, to_state: str
    ) -> None:
        Ticket.objects.update(state=state)
        ticket.refresh_from_db()
        with pytest.raises(PartsUnresolved, match="whether it was used: “Wiper, 36 mm”"):
            move(ticket=ticket, to_state=to_state, by=None, seen_version=1)
        ticket.refresh_from_db()
        assert (ticket.state, ticket.version) == (state, 1)

    def test_what_a_finding_put_there_is_asked_for(self, ticket: Ticket) -> None:
        add_from_answer(ticket=ticket, step=StepFactory(), parts=[{"role": "wiper", "quantity": 2}], by=None)
        with pytest.raises(PartsUnresolved):
            move(ticket=ticket, to_state="ready", by=None, seen_version=1)

    def test_called_off_and_handed_back_it_is_asked_for_too(self, ticket: Ticket, line: PartLine) -> None:
        move(ticket=ticket, to_state="called_off", by=None, seen_version=1, reason="Too dear")
        with pytest.raises(PartsUnresolved, match="Not handed back yet"):
            hand_back(ticket=ticket, by=None, seen_version=2, settings=Settings())

    @pytest.mark.parametrize("status", ["used", "dropped"])
    def test_what_was_answered_for_does_not_refuse(self, ticket: Ticket, line: PartLine, status: str) -> None:
        PartLine.objects.update(status=status)
        move(ticket=ticket, to_state="ready", by=None, seen_version=1)
        assert ticket.state == "ready"

    def test_used_is_charged_and_taken_not_used_is_neither_and_free(
        self, ticket: Ticket, line: PartLine, item: StockItem
    ) -> None:
        other = PartLineFactory(ticket=ticket, part=item.part, quantity=3, unit_price=item.price)
        assert sum(row.wanted for row in stores_standing(item.shop).items) == 5
        answers = [PartAnswer(line.pk, Decimal(1), Decimal(2)), PartAnswer(other.pk, None, Decimal(3))]
        resolve_parts(ticket=ticket, answers=answers, by=None)
        move(ticket=ticket, to_state="ready", by=None, seen_version=1)
        hand_back(ticket=ticket, by=None, seen_version=2, settings=Settings())
        assert level_of(item) == 9
        assert FinalCharges.objects.get().net == Decimal("11.50")
        assert sum(row.wanted for row in stores_standing(item.shop).items) == 0

    def test_all_of_them_or_none(self, ticket: Ticket, line: PartLine, item: StockItem) -> None:
        too_many = PartLineFactory(ticket=ticket, part=item.part, quantity=20)
        answers = [PartAnswer(line.pk, Decimal(2), Decimal(2)), PartAnswer(too_many.pk, Decimal(20), Decimal(20))]
        with pytest.raises(PartAnswersRefused) as refused:
            resolve_parts(ticket=ticket, answers=answers, by=None)
        assert set(refused.value.reasons) == {too_many.pk}
        assert "cannot go out" in refused.value.reasons[too_many.pk]
        assert set(PartLine.objects.values_list("status", flat=True)) == {"needed"}
        assert level_of(item) == 10

    def test_a_line_of_another_ticket_is_refused(self, ticket: Ticket, line: PartLine) -> None:
        strange = PartLineFactory(ticket=TicketFactory(shop=ticket.shop))
        with pytest.raises(PartAnswersRefused):
            resolve_parts(ticket=ticket, answers=[PartAnswer(strange.pk, Decimal(1), Decimal(1))], by=None)
        strange.refresh_from_db()
        assert strange.status == "needed"


# Where somebody presses it: the address, the ticket's state before and after, and what the press carries.
PRESSES = [
    ("bench:finish", "on_the_bench", "ready", {"version": "1", "reason": ""}),
    ("counter:move", "on_the_bench", "ready", {"seen_version": "1", "to": "ready", "reason": "All well"}),
    ("counter:hand_back", "ready", "handed_back",
     {"seen_version": "1", "seen_settings_version": "0", "remarks": "Soft", "pays_by": "cash"}),
]  # fmt: skip


@pytest.mark.parametrize(("route", "state", "after", "sent"), PRESSES, ids=[press[0] for press in PRESSES])
class TestTheScreens:
    @pytest.fixture(autouse=True)
    def there(self, client: Client, owner: User, ticket: Ticket, line: PartLine, state: str) -> None:
        Ticket.objects.update(state=state)

    def press(self, client: Client, route: str, ticket: Ticket, sent: dict[str, str], **more: str) -> tuple[int, str]:
        page = client.post(reverse(route, args=[ticket.number]), {**sent, **more})
        return page.status_code, page.content.decode()

    def test_it_asks_and_one_press_keeps_and_goes_on(
        self, client: Client, ticket: Ticket, line: PartLine, item: StockItem, route: str, state: str, after: str,
        sent: dict[str, str],
    ) -> None:  # fmt: skip
        for _ in range(2):
            status, text = self.press(client, route, ticket, sent)
            assert (status, "Which parts were used?" in text, "Wiper, 36 mm" in text) == (422, True, True)
        for value in sent.values():
            assert f'value="{value}"' in text  # what was pressed and typed goes along
        assert self.press(client, route, ticket, sent, **answered(line, "used", "1"))[0] == 302
        ticket.refresh_from_db()
        line.refresh_from_db()
        assert (ticket.state, line.status, line.quantity) == (after, "used", Decimal(1))
        assert level_of(item) == 9
        if after == "handed_back":
            assert ticket.settings_records.get().remarks == "Soft"
            assert FinalCharges.objects.get().net == Decimal("11.50")

    def test_not_used_needs_no_quantity(
        self, client: Client, ticket: Ticket, line: PartLine, item: StockItem, route: str, state: str, after: str,
        sent: dict[str, str],
    ) -> None:  # fmt: skip
        assert self.press(client, route, ticket, sent, **answered(line, "not_used", "rubbish"))[0] == 302
        line.refresh_from_db()
        ticket.refresh_from_db()
        assert (ticket.state, line.status, level_of(item)) == (after, "dropped", Decimal(10))

    @pytest.mark.parametrize(
        ("became", "quantity", "says"),
        [
            ("", "2", "Say whether it was used."),
            ("used", "", "Enter how much was used."),
            ("used", "two", "Enter a number, for example 2."),
            ("used", "0", "Enter a quantity above zero."),
            ("used", "11", "cannot go out"),
            ("lost", "2", "not in the list"),
        ],
    )
    def test_a_wrong_answer_is_said_beside_it_and_keeps_the_rest(
        self, client: Client, ticket: Ticket, line: PartLine, item: StockItem, route: str, state: str, after: str,
        sent: dict[str, str], became: str, quantity: str, says: str,
    ) -> None:  # fmt: skip
        status, text = self.press(client, route, ticket, sent, **answered(line, became, quantity))
        assert (status, says in text) == (422, True)
        if quantity:
            assert f'value="{quantity}"' in text
        ticket.refresh_from_db()
        line.refresh_from_db()
        assert (ticket.state, line.status, line.quantity, level_of(item)) == (state, "needed", Decimal(2), Decimal(10))

    def test_an_old_page_keeps_nothing(
        self, client: Client, ticket: Ticket, line: PartLine, item: StockItem, route: str, state: str, after: str,
        sent: dict[str, str],
    ) -> None:  # fmt: skip
        Ticket.objects.update(version=2)
        status, _ = self.press(client, route, ticket, sent, **answered(line, "used"))
        line.refresh_from_db()
        assert (status, line.status, level_of(item)) == (409, "needed", Decimal(10))

    def test_a_part_that_came_meanwhile_is_asked_for_too(
        self, client: Client, ticket: Ticket, line: PartLine, item: StockItem, route: str, state: str, after: str,
        sent: dict[str, str],
    ) -> None:  # fmt: skip
        late = PartLineFactory(ticket=ticket, part=None, words="Odd circlip")
        status, text = self.press(client, route, ticket, sent, **answered(line, "used"))
        assert (status, "Odd circlip" in text) == (422, True)
        both = {**answered(line, "used"), f"became-{late.pk}": "not_used"}
        assert self.press(client, route, ticket, sent, **both)[0] == 302

    def test_somebody_used_it_meanwhile_it_is_taken_once(
        self, client: Client, ticket: Ticket, line: PartLine, item: StockItem, route: str, state: str, after: str,
        sent: dict[str, str],
    ) -> None:  # fmt: skip
        client.post(reverse("bench:use_part", args=[ticket.number, line.pk]))
        assert self.press(client, route, ticket, sent, **answered(line, "used"))[0] == 302
        ticket.refresh_from_db()
        assert (ticket.state, level_of(item)) == (after, Decimal(8))


@pytest.mark.django_db(transaction=True)
def test_two_who_answer_at_once_take_it_once(item: StockItem) -> None:
    ticket = TicketFactory(shop=item.shop, state="on_the_bench")
    line = PartLineFactory(ticket=ticket, part=item.part, quantity=2)

    def answer(number: int) -> str:
        try:
            resolve_parts(
                ticket=Ticket.objects.get(pk=ticket.pk), answers=[PartAnswer(line.pk, Decimal(2), Decimal(2))], by=None
            )
        except PartAnswersRefused:
            return "told"
        return "kept"

    assert sorted(at_once(answer)) == ["kept"] + ["told"] * 5
    assert level_of(item) == 8
