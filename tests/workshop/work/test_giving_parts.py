"""Who a part is kept for: given by hand, kept while the customer is waited for, and not kept after a no."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from tests.factories import (
    DocumentFactory,
    PartLineFactory,
    ShopFactory,
    StockItemFactory,
    StockMovementFactory,
    TicketFactory,
    UserFactory,
)
from tests.squeezed import squeezed
from workshop.models import Agreement, PartLine, Shop, StockItem, Ticket, User
from workshop.promise.honest import promise_of
from workshop.stock.ordering import place_order
from workshop.stock.shortages import stores_standing
from workshop.stock.stock_list import stock_of
from workshop.work.event_words import log_lines
from workshop.work.giving_parts import give_back, give_part
from workshop.work.part_lines import KeptForOthers, PartLineRefused, use_part_line

pytestmark = pytest.mark.django_db
DAY = dt.timedelta(days=1)


@pytest.fixture
def owner() -> User:
    made: User = UserFactory(owner=True)
    return made


@pytest.fixture
def shop(owner: User) -> Shop:
    assert owner.shop is not None
    return owner.shop


@pytest.fixture
def item(shop: Shop) -> StockItem:
    """Two are there."""
    made: StockItem = StockItemFactory(shop=shop, part__description="Foot seal", lead_days=20, reorder_level=0)
    StockMovementFactory(item=made, quantity=2)
    return made


def wanting(item: StockItem, in_days: int, quantity: int = 2, **fields: object) -> PartLine:
    ticket = TicketFactory(shop=item.shop, promised_on=timezone.localdate() + in_days * DAY, **fields)
    made: PartLine = PartLineFactory(ticket=ticket, part=item.part, quantity=Decimal(quantity))
    return made


def there(item: StockItem) -> dict[int, Decimal]:
    """What is kept for each ticket, by its key."""
    (standing,) = stores_standing(Shop.objects.get(pk=item.shop_id), only_parts=[item.part_id]).items
    return {share.want.ticket_pk: share.there for share in standing.shares}


def said(ticket: Ticket) -> list[str]:
    return [line.words for line in log_lines(ticket.events.order_by("pk"), ticket.shop)]


class TestGivenByHand:
    def test_it_is_kept_for_that_ticket_first_and_every_logbook_says_who_and_why(
        self, item: StockItem, owner: User
    ) -> None:
        sooner, later = wanting(item, 2), wanting(item, 20)
        assert there(item) == {sooner.ticket_id: 2, later.ticket_id: 0}
        (short,) = give_part(line=later, why=" He races on Sunday ", by=owner)
        assert short.want.ticket_pk == sooner.ticket_id
        assert there(item) == {later.ticket_id: 2, sooner.ticket_id: 0}
        number = later.ticket.number
        assert said(sooner.ticket) == [f"Foot seal given to ticket {number}: He races on Sunday"]
        assert said(later.ticket) == [
            f"Foot seal kept for this ticket first, before ticket {sooner.ticket.number}: He races on Sunday"
        ]
        assert {event.by for line in (sooner, later) for event in line.ticket.events.all()} == {owner}

    def test_the_promises_follow(self, item: StockItem, owner: User) -> None:
        today = timezone.localdate()
        sooner, later = wanting(item, 10), wanting(item, 25)
        assert promise_of(sooner.ticket, today) is None
        give_part(line=later, why="A race", by=owner)
        danger = promise_of(sooner.ticket, today)
        assert danger is not None
        assert danger.reason == "Foot seal takes 20 days to come"

    def test_using_it_elsewhere_asks_for_whom_it_was_given(self, item: StockItem, owner: User) -> None:
        sooner, later = wanting(item, 2), wanting(item, 20)
        give_part(line=later, why="A race", by=owner)
        with pytest.raises(KeptForOthers, match=f"kept for ticket {later.ticket.number} "):
            use_part_line(line=sooner, by=owner)
        use_part_line(line=later, by=owner)

    def test_given_back_it_goes_by_promise_again(self, item: StockItem, owner: User) -> None:
        sooner, later = wanting(item, 2), wanting(item, 20)
        give_part(line=later, why="A race", by=owner)
        give_back(line=later, by=owner)
        assert there(item) == {sooner.ticket_id: 2, later.ticket_id: 0}
        assert said(later.ticket)[-1] == "Foot seal: kept by the order of promises again"
        with pytest.raises(PartLineRefused, match="already"):
            give_back(line=later, by=owner)

    def test_the_newest_word_goes_first(self, item: StockItem, owner: User) -> None:
        one, two, three = (wanting(item, days) for days in (2, 20, 30))
        give_part(line=two, why="A race", by=owner)
        give_part(line=three, why="Longer away", by=owner)
        assert there(item) == {one.ticket_id: 0, two.ticket_id: 0, three.ticket_id: 2}
        give_part(line=one, why="After all", by=owner)
        assert there(item) == {one.ticket_id: 2, two.ticket_id: 0, three.ticket_id: 0}

    def test_what_comes_sooner_can_be_given_too(self, shop: Shop, owner: User) -> None:
        item = StockItemFactory(shop=shop, supplier="North")
        sooner, later = wanting(item, 2, quantity=1), wanting(item, 20, quantity=1)
        for days in (4, 9):
            order = place_order(shop=shop, supplier="North", quantities={item.pk: Decimal(1)}, by=None)
            type(order).objects.filter(pk=order.pk).update(expected_on=timezone.localdate() + days * DAY)
        (standing,) = stores_standing(shop).items
        assert [share.want.line_pk for share in standing.may_be_given] == [later.pk]
        assert [share.want.line_pk for share in give_part(line=later, why="A race", by=owner)] == [sooner.pk]

    def test_what_comes_for_all_at_once_is_not_offered(self, shop: Shop, owner: User) -> None:
        item = StockItemFactory(shop=shop, supplier="North")
        lines = [wanting(item, days, quantity=1) for days in (2, 20)]
        place_order(shop=shop, supplier="North", quantities={item.pk: Decimal(2)}, by=None)
        (standing,) = stores_standing(shop).items
        assert standing.may_be_given == []
        with pytest.raises(PartLineRefused, match="nothing to give"):
            give_part(line=lines[1], why="A race", by=owner)

    @pytest.mark.parametrize(
        ("what", "reason"),
        [
            ("has it", "is kept for ticket"),
            ("used", "is not needed on ticket"),
            ("nobody has any", "there is nothing to give"),
            ("not kept", "not kept in these stores"),
            ("words", "not kept in these stores"),
        ],
    )
    def test_what_cannot_be_given_is_refused_and_changes_nothing(
        self, item: StockItem, owner: User, what: str, reason: str
    ) -> None:
        sooner, later = wanting(item, 2), wanting(item, 20)
        if what == "has it":
            later = sooner
        elif what == "used":
            PartLine.objects.filter(pk=later.pk).update(status="used")
        elif what == "nobody has any":
            StockMovementFactory(item=item, quantity=-2, kind="written_off")
        elif what == "not kept":
            later = PartLineFactory(ticket=later.ticket)
        else:
            later = PartLineFactory(ticket=later.ticket, part=None, words="Odd circlip")
        before = there(item)
        with pytest.raises(PartLineRefused, match=reason):
            give_part(line=later, why="A race", by=owner)
        assert there(item) == before
        assert not PartLine.objects.filter(given_at__isnull=False).exists()
        assert said(later.ticket) == []

    def test_somebody_says_why(self, item: StockItem, owner: User) -> None:
        wanting(item, 2)
        with pytest.raises(ValidationError, match="Say why"):
            give_part(line=wanting(item, 20), why="  ", by=owner)


class TestWhoWaitsForTheCustomer:
    def waits(self, item: StockItem, days: int) -> PartLine:
        line = wanting(item, 2, waiting=True)
        Ticket.objects.filter(pk=line.ticket_id).update(state_since=timezone.now() - days * DAY)
        return line

    def answer(self, ticket: Ticket, *, agreed: bool, days_ago: int = 0, revision: int = 1) -> None:
        estimate = DocumentFactory(ticket=ticket, kind="estimate", revision=revision)
        Agreement.objects.create(
            document=estimate, ticket=ticket, agreed=agreed, amount=100, data_digest="0" * 64, how="phone",
            said_by="The customer", at=timezone.now() - days_ago * DAY,
        )  # fmt: skip

    def test_it_keeps_its_parts_as_long_as_it_takes_unless_the_owner_says_otherwise(self, item: StockItem) -> None:
        waiting, other = self.waits(item, 300), wanting(item, 20)
        assert there(item) == {waiting.ticket_id: 2, other.ticket_id: 0}

    @pytest.mark.parametrize(("days", "keeps"), [(6, True), (8, False)])
    def test_after_so_many_days_it_stands_behind_the_others(self, item: StockItem, days: int, keeps: bool) -> None:
        Shop.objects.filter(pk=item.shop_id).update(waiting_keeps_days=7)
        waiting, other = self.waits(item, days), wanting(item, 20)
        assert there(item) == {waiting.ticket_id: 2 * keeps, other.ticket_id: 2 * (not keeps)}

    def test_nobody_else_wants_it_then_it_has_it_still(self, item: StockItem) -> None:
        Shop.objects.filter(pk=item.shop_id).update(waiting_keeps_days=7)
        waiting = self.waits(item, 30)
        assert there(item) == {waiting.ticket_id: 2}

    def test_an_answer_gives_it_its_place_back(self, item: StockItem) -> None:
        Shop.objects.filter(pk=item.shop_id).update(waiting_keeps_days=7)
        waiting, other = self.waits(item, 8), wanting(item, 20)
        self.answer(waiting.ticket, agreed=True, days_ago=20)  # to what was asked before it began to wait
        assert there(item)[waiting.ticket_id] == 0
        self.answer(waiting.ticket, agreed=True, revision=2)
        assert there(item) == {waiting.ticket_id: 2, other.ticket_id: 0}

    def test_one_that_waits_for_parts_keeps_them(self, item: StockItem) -> None:
        Shop.objects.filter(pk=item.shop_id).update(waiting_keeps_days=7)
        waiting = self.waits(item, 30)
        Ticket.objects.filter(pk=waiting.ticket_id).update(waiting_for="parts")
        wanting(item, 20)
        assert there(item)[waiting.ticket_id] == 2

    def test_a_no_keeps_nothing_until_there_is_a_yes(self, item: StockItem) -> None:
        declined, other = wanting(item, 2), wanting(item, 20)
        self.answer(declined.ticket, agreed=False)
        assert there(item) == {other.ticket_id: 2}
        assert [row.needed for row in stock_of(item.shop)] == [2]  # type: ignore[attr-defined]
        self.answer(declined.ticket, agreed=True, revision=2)
        assert there(item) == {declined.ticket_id: 2, other.ticket_id: 0}

    def test_a_no_to_more_keeps_what_was_agreed_before(self, item: StockItem) -> None:
        declined, capped = wanting(item, 2, quantity=1), wanting(item, 3, quantity=1)
        self.answer(declined.ticket, agreed=True)
        self.answer(declined.ticket, agreed=False, revision=2)
        Ticket.objects.filter(pk=capped.ticket_id).update(price_ceiling=80)
        self.answer(capped.ticket, agreed=False)
        assert there(item) == {declined.ticket_id: 1, capped.ticket_id: 1}


class TestOnTheScreens:
    @pytest.fixture
    def page(self, client: Client, owner: User) -> Client:
        client.force_login(owner)
        return client

    def test_given_and_back_on_the_parts_page(self, page: Client, item: StockItem) -> None:
        sooner, later = wanting(item, 2), wanting(item, 20)
        address, give = reverse("stores:item", args=[item.pk]), reverse("stores:give", args=[item.pk])
        assert f'value="{later.pk}">' in page.get(address).text
        refused = page.post(give, {"line": later.pk, "why": ""})
        assert refused.status_code == 422
        assert "Say why this ticket comes first." in refused.text
        done = page.post(give, {"line": later.pk, "why": "A race"}, follow=True)
        assert f"Ticket {sooner.ticket.number} stands behind it now." in done.text
        assert "first by hand since" in done.text
        parts = squeezed(page.get(reverse("bench:parts", args=[later.ticket.number])).text)
        assert "kept for this ticket first" in parts
        again = page.post(give, {"line": later.pk, "why": "A race, again"})
        assert again.status_code == 422
        assert "already" in again.text
        page.post(give, {"line": later.pk, "back": "1"})
        assert "first by hand since" not in page.get(address).text

    @pytest.mark.parametrize("sent", ["x", "", "99999999999999999999"])
    def test_a_line_that_is_not_there_is_not_found(self, page: Client, item: StockItem, sent: str) -> None:
        assert page.post(reverse("stores:give", args=[item.pk]), {"line": sent, "why": "A race"}).status_code == 404

    def test_a_line_of_another_shop_or_part_is_not_found(self, page: Client, item: StockItem) -> None:
        other = PartLineFactory(ticket=TicketFactory(shop=ShopFactory()), part=item.part)
        elsewhere = PartLineFactory(ticket=TicketFactory(shop=item.shop))
        for line in (other, elsewhere):
            sent = {"line": line.pk, "why": "A race"}
            assert page.post(reverse("stores:give", args=[item.pk]), sent).status_code == 404

    def test_what_the_customer_said_no_to_says_so_on_the_ticket(self, page: Client, item: StockItem) -> None:
        line = wanting(item, 2)
        TestWhoWaitsForTheCustomer().answer(line.ticket, agreed=False)
        text = squeezed(page.get(reverse("bench:parts", args=[line.ticket.number])).text)
        assert "not kept: the customer said no" in text

    def test_the_owner_sets_how_long(self, page: Client, item: StockItem, shop: Shop) -> None:
        address = reverse("office:shop_settings")
        form = page.get(address).context["form"]
        sent = {name: "" if (value := form[name].value()) is None else value for name in form.fields}
        for typed, kept in (("7", 7), ("", None)):
            sent["seen_version"] = Shop.objects.get(pk=shop.pk).version
            assert page.post(address, sent | {"waiting_keeps_days": typed}).status_code == 302
            assert Shop.objects.get(pk=shop.pk).waiting_keeps_days == kept
        for wrong in ("0", "366", "-1", "soon"):
            refused = page.post(address, sent | {"waiting_keeps_days": wrong})
            assert refused.status_code == 422
            assert refused.context["form"].errors.keys() == {"waiting_keeps_days"}
            assert f'value="{wrong}"' in refused.text

    def test_as_many_queries_however_many_want_it(self, page: Client, item: StockItem, shop: Shop) -> None:
        Shop.objects.filter(pk=shop.pk).update(waiting_keeps_days=7)

        def queries() -> int:
            page.get(reverse("stores:item", args=[item.pk]))
            with CaptureQueriesContext(connection) as asked:
                page.get(reverse("stores:item", args=[item.pk]))
            return len(asked)

        wanting(item, 2)
        few = queries()
        for days in range(3, 9):
            wanting(item, days)
        assert queries() == few
