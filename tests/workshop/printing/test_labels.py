"""Many labels at once: on a sheet, from a roll, chosen on a page, and what is refused."""

from __future__ import annotations

import io
from collections.abc import Sequence

import pikepdf
import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from pytest_django.asserts import assertContains

from tests.factories import PartFactory, ShopFactory, StockItemFactory, TicketFactory, UserFactory
from tests.pdf_text import read_out
from tests.pdf_ua import faults_of
from workshop.documents.label_sheet import MOST_LABELS, Tag, labels_pdf, sheet_data, tag_of_item, tag_of_ticket
from workshop.documents.rendering import html_of
from workshop.models import Shop, Ticket

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Shop:
    return ShopFactory()


def tags(number: int) -> list[Tag]:
    return [Tag(f"A{n}", f"Wiper {n}", ["T-1", "36 × 46 × 6.5 mm"], f"part {n}", "") for n in range(number)]


def pages_of(pdf: bytes) -> int:
    with pikepdf.open(io.BytesIO(pdf)) as opened:
        return len(opened.pages)


@pytest.mark.parametrize(
    ("paper", "number", "used", "pages"),
    [
        ("24 on A4", 24, 0, 1), ("24 on A4", 25, 0, 2), ("24 on A4", 5, 19, 1), ("24 on A4", 5, 20, 2),
        ("12 on A4", 12, 0, 1), ("12 on A4", 13, 0, 2), ("62×29 mm", 3, 0, 3),
    ],
)  # fmt: skip
def test_labels_fill_their_sheets(shop: Shop, paper: str, number: int, used: int, pages: int) -> None:
    pdf = labels_pdf(shop=shop, tags=tags(number), paper=paper, used=used)
    assert pages_of(pdf) == pages
    said = read_out(pdf)
    assert [f"Wiper {n}" in said for n in range(number)] == [True] * number


@pytest.mark.parametrize("paper", ["24 on A4", "62×29 mm"])
def test_labels_read_aloud_and_cut_nothing(shop: Shop, paper: str) -> None:
    item = StockItemFactory(
        shop=shop, shelf="B12", part=PartFactory(number="X" * 30, description="D" * 120, size="S" * 60)
    )
    ticket = TicketFactory(shop=shop, customer__name="N" * 120)
    made = [tag_of_item(item, "https://shop.example/stores/1/"), tag_of_ticket(ticket, "https://shop.example/bench/1/")]
    pdf = labels_pdf(shop=shop, tags=made, paper=paper)
    assert faults_of(pdf) == []
    assert pages_of(pdf) == (1 if "A4" in paper else 2)
    html = html_of("documents/label_sheet.html", sheet_data(shop=shop, tags=made, used=0))
    assert 'alt="Code that opens part ' in html


@pytest.mark.parametrize(
    ("paper", "number", "used", "why"),
    [
        ("A5", 1, 0, "no label paper"), ("A4", 1, 0, "no label paper"), ("24 on A4", 0, 0, "From 1 to"),
        ("24 on A4", MOST_LABELS + 1, 0, "From 1 to"), ("24 on A4", 1, 24, "can be gone"),
        ("12 on A4", 1, 12, "can be gone"), ("62×29 mm", 1, 1, "can be gone"), ("24 on A4", 1, -1, "can be gone"),
    ],
)  # fmt: skip
def test_what_cannot_be_printed_is_refused(shop: Shop, paper: str, number: int, used: int, why: str) -> None:
    with pytest.raises(ValueError, match=why):
        labels_pdf(shop=shop, tags=tags(number), paper=paper, used=used)


class TestScreens:
    @pytest.fixture(autouse=True)
    def made(self, client: Client, shop: Shop, monkeypatch: pytest.MonkeyPatch) -> list[Sequence[Tag]]:
        """What was laid out, without laying it out."""
        client.force_login(UserFactory(shop=shop, owner=True))
        asked: list[Sequence[Tag]] = []

        def keep(**given: object) -> bytes:
            asked.append(given["tags"])  # type: ignore[arg-type]  # the tags
            return b"%PDF-1.7 labels"

        monkeypatch.setattr("workshop.printing.label_views.labels_pdf", keep)
        return asked

    def test_parts_that_were_found_are_ticked_along_the_shelves(
        self, client: Client, shop: Shop, made: list[Sequence[Tag]]
    ) -> None:
        late, early, other = (
            StockItemFactory(shop=shop, shelf=shelf, part__description=words, part__role="other")
            for shelf, words in (("A10", "Wiper, odd"), ("A2", "Wiper, even"), ("A1", "Circlip"))
        )
        StockItemFactory(shop=ShopFactory(), shelf="A3", part__description="Wiper, theirs")
        address = f"{reverse('documents:labels_of_parts')}?q=wiper"
        page = client.get(address)
        assert [(one.pk, ticked) for one, ticked in page.context["rows"]] == [(early.pk, True), (late.pk, True)]
        chosen = {"paper": "24 on A4", "used": "", "label": [late.pk, other.pk, "x"]}
        answer = client.post(address, chosen)
        assert answer["Content-Type"] == "application/pdf"
        assert [tag.heading for tag in made[0]] == ["A10"]
        assert made[0][0].address.endswith(reverse("stores:item", args=[late.pk]))

    def test_tickets_of_today_are_ticked_and_closed_ones_not_there(
        self, client: Client, shop: Shop, made: list[Sequence[Tag]]
    ) -> None:
        ticket = TicketFactory(shop=shop)
        TicketFactory(shop=shop, state=Ticket.State.HANDED_BACK)
        page = client.get(reverse("documents:labels_of_tickets"))
        assert [one.pk for one, _ in page.context["rows"]] == [ticket.pk]
        client.post(reverse("documents:labels_of_tickets"), {"paper": "62×29 mm", "label": [ticket.pk]})
        assert made[0][0].heading == str(ticket.number)

    @pytest.mark.parametrize(
        ("sent", "why"),
        [
            ({"paper": "24 on A4", "used": "many"}, "Enter a whole number"),
            ({"paper": "24 on A4", "used": "-1"}, "Enter 0 or more."),
            ({"paper": "A5"}, "not in the list"),
        ],
    )
    def test_a_wrong_paper_is_refused_and_the_ticks_stay(
        self, client: Client, shop: Shop, sent: dict[str, str], why: str
    ) -> None:
        tickets = [TicketFactory(shop=shop) for _ in range(2)]
        answer = client.post(reverse("documents:labels_of_tickets"), {**sent, "label": [tickets[0].pk]})
        assertContains(answer, why, status_code=422)
        assert [ticked for _, ticked in answer.context["rows"]] == [False, True]

    def test_the_list_asks_the_same_however_many(self, client: Client, shop: Shop) -> None:
        for route, make in (
            ("documents:labels_of_parts", lambda: StockItemFactory(shop=shop, shelf="A1")),
            ("documents:labels_of_tickets", lambda: TicketFactory(shop=shop)),
        ):
            asked = []
            for _ in range(3):
                make()
                with CaptureQueriesContext(connection) as queries:
                    client.get(reverse(route))
                asked.append(len(queries))
            assert asked[0] == asked[2], route

    def test_more_than_one_print_takes_is_paged_through(
        self, client: Client, shop: Shop, made: list[Sequence[Tag]], monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr("workshop.printing.label_views.MOST_LABELS", 2)
        tickets = [TicketFactory(shop=shop) for _ in range(3)]
        parts = [StockItemFactory(shop=shop, shelf=f"A{place}") for place in range(3)]
        keys = [one.pk for one in tickets[::-1]], [one.pk for one in parts]
        for route, rows in zip(("documents:labels_of_tickets", "documents:labels_of_parts"), keys, strict=True):
            for number, wanted in enumerate((rows[:2], rows[2:]), start=1):
                page = client.get(reverse(route), {"page": number})
                assert [one.pk for one, _ in page.context["rows"]] == wanted
                assertContains(page, f"Page {number} of 2, 3 in total")
        last = f"{reverse('documents:labels_of_tickets')}?page=2"
        client.post(last, {"paper": "24 on A4", "label": [tickets[0].pk]})
        assert [tag.heading for tag in made[0]] == [str(tickets[0].number)]


def test_no_label_is_refused_in_words(client: Client, shop: Shop) -> None:
    client.force_login(UserFactory(shop=shop, owner=True))
    TicketFactory(shop=shop)
    answer = client.post(reverse("documents:labels_of_tickets"), {"paper": "24 on A4"})
    assertContains(answer, "From 1 to", status_code=422)
