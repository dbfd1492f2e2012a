"""Documents: what they print, that they are frozen, and what happens when the machine cannot make them."""

from __future__ import annotations

import io
from collections.abc import Callable
from decimal import Decimal
from typing import Any, cast

import pypdf
import pytest
from django.template.loader import get_template
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pytest_django.asserts import assertContains, assertNotContains

from diagnosis.runs import start_run
from specs.models import SpecValue
from tests.factories import (
    BikeFactory,
    ConditionNoteFactory,
    PartFactory,
    PartLineFactory,
    SettingsRecordFactory,
    SpecValueFactory,
    StockItemFactory,
    StockMovementFactory,
    SuspensionModelFactory,
    SuspensionUnitFactory,
    TicketFactory,
    TicketRunFactory,
    UserFactory,
)
from tests.handed_over import hand_it_over, part
from tests.logbook import logged
from tests.pdf_structure import elements_of
from tests.shipped import shipped_checklist
from workshop.documents import rendering
from workshop.documents.issuing import PRINTABLE, UnknownPaper, digest_of_paper, issue, stored_pdf, template_of
from workshop.documents.rendering import PdfUnavailable, pdf_of
from workshop.issued.models import Document
from workshop.staff.models import User
from workshop.tickets.models import Ticket
from workshop.work.taking_back import open_again

pytestmark = pytest.mark.django_db
ADDRESS = "https://shop.example/bench/7/"


@pytest.fixture
def clerk() -> User:
    return UserFactory()


@pytest.fixture
def ticket(clerk: User) -> Ticket:
    """A fork with one checked value, one unchecked value, a part in stock and a part to order."""
    model = SuspensionModelFactory()
    unit = SuspensionUnitFactory(shop=clerk.shop, customer__shop=clerk.shop, model=model, serial="SN-4711")
    mechanic = UserFactory(shop=clerk.shop, mechanic=True)
    SpecValueFactory(model=model, entered_by=mechanic, checked_by=clerk, checked_at="2026-01-02T10:00Z")
    SpecValueFactory(model=model, quantity="foot_torque_air_leg", magnitude_si=8.0, typed="8 N·m")
    ticket = TicketFactory(
        shop=clerk.shop,
        number=7,
        customer=unit.customer,
        unit=unit,
        bike=BikeFactory(customer=unit.customer, description="moss green hardtail"),
        complaint_words="It <dives> & feels wooden",
        price_ceiling=Decimal(180),
    )
    SettingsRecordFactory(ticket=ticket)
    ConditionNoteFactory(ticket=ticket)
    wiper = PartFactory(number="T-WP-1", description="Wiper, test size")
    StockMovementFactory(item=StockItemFactory(shop=clerk.shop, part=wiper, shelf="B4"))
    PartLineFactory(ticket=ticket, part=wiper, quantity=2, unit_price=Decimal("11.50"))
    PartLineFactory(
        ticket=ticket, part=PartFactory(number="T-FR-1", description="Foam ring, test size"), unit_price=None
    )
    return ticket


@pytest.fixture
def no_layout(monkeypatch: pytest.MonkeyPatch) -> None:
    """For tests of what is printed or kept, not of the page: the HTML itself stands for the PDF."""
    monkeypatch.setattr("workshop.documents.issuing.pdf_of", lambda html, paper: html.encode())


def text_of(document: Document) -> str:
    with document.pdf.open("rb") as file:
        pages = pypdf.PdfReader(file).pages
        return " ".join(" ".join(page.extract_text() for page in pages).split())


def reader_of(document: Document) -> pypdf.PdfReader:
    with document.pdf.open("rb") as file:
        return pypdf.PdfReader(io.BytesIO(file.read()))


def issued(ticket: Ticket, by: User, kind: str, paper: str = "") -> Document:
    return issue(ticket=ticket, kind=kind, by=by, ticket_address=ADDRESS, paper=paper)


def test_work_order_prints_what_the_bench_needs(ticket: Ticket, clerk: User) -> None:
    text = text_of(issued(ticket, clerk, "work_order"))

    assert "It <dives> & feels wooden" in text
    assert "SN-4711" in text
    assert "moss green hardtail" in text
    assert "82 psi" in text  # on arrival
    assert "Light scratch 40 mm above the wiper" in text
    assert "180.00 EUR" in text
    assert "Mechanic, date" in text


@pytest.mark.usefixtures("no_layout")
def test_work_order_grades_its_cautions_by_signal_words_the_gravest_first(ticket: Ticket, clerk: User) -> None:
    run = start_run(checklist=shipped_checklist("sits-low"), facts=ticket.unit.facts(), by=clerk)
    TicketRunFactory(ticket=ticket, run=run)
    (checklist,) = issued(ticket, clerk, "work_order").data["checklists"]
    step = next(step for step in checklist["steps"] if step["title"] == "Let all the air out and prove it")
    levels = [caution["level"] for caution in step["cautions"]]
    assert levels[0] == "danger"
    assert levels == sorted(levels, key=["danger", "warning", "caution", "notice"].index)
    every = [caution for step in checklist["steps"] for caution in step["cautions"]]
    assert {caution["word"] for caution in every if caution["level"] == "danger"} == {"Danger"}
    assert {caution["word"] for caution in every if caution["level"] == "warning" and caution["text"]} == {"Warning"}
    assert [caution["title"] for caution in every if caution["level"] == "notice" and not caution["text"]] == []


@pytest.mark.usefixtures("no_layout")
def test_work_order_says_where_each_value_comes_from_and_whether_it_was_checked(ticket: Ticket, clerk: User) -> None:
    data = issued(ticket, clerk, "work_order").data

    rows = {row["key"]: row for row in data["spec_values"]}
    assert rows["max_pressure"] | {"value": "120 psi", "checked": True} == rows["max_pressure"]
    assert rows["max_pressure"]["source"] == "Invented manual for tests, A, p. 12"
    assert rows["foot_torque_air_leg"]["checked"] is False
    assert rows["oil_volume_air_leg"]["value"] == ""


def test_work_order_marks_unchecked_and_missing_values_in_words(ticket: Ticket, clerk: User) -> None:
    text = text_of(issued(ticket, clerk, "work_order"))

    assert "not checked against the manual" in text
    assert "8 N·m unchecked" in text.replace(" (1, p. 12)", "")
    assert "not known: see the manual" in text


@pytest.mark.usefixtures("no_layout")
def test_work_order_says_what_to_order(ticket: Ticket, clerk: User) -> None:
    document = issued(ticket, clerk, "work_order")

    stores = {row["number"]: (row["availability"], row["shelf"], row["total"]) for row in document.data["parts"]}
    assert stores["T-WP-1"] == ("in stock", "B4", "23.00 EUR")
    assert stores["T-FR-1"][0] == "to order (not kept)"
    assert document.data["parts"][0]["number"] == "T-FR-1"  # what to order comes first
    assert document.data["parts_total"] == "23.00 EUR"
    assert document.data["parts_unpriced"] == 1


def _ready(ticket: Ticket) -> Ticket:
    ticket.state = Ticket.State.READY
    ticket.save()
    return ticket


def test_customer_report_speaks_to_the_customer(ticket: Ticket, clerk: User) -> None:
    text = text_of(issued(_ready(ticket), clerk, "customer_report"))

    assert "What you told us" in text
    assert "No cause was found." in text
    assert "Before the first ride" in text
    assert "Next service: see the maker’s manual" in text


def test_customer_report_counts_no_next_service_where_none_was_done(ticket: Ticket, clerk: User) -> None:
    SpecValueFactory(model=ticket.unit.model, quantity="lowers_interval_hours", magnitude_si=43 * 3600.0, typed="43 h")

    text = text_of(issued(_ready(ticket), clerk, "customer_report"))

    assert "Next service: no day to name" in text
    assert "hours of riding" not in text


def test_an_issued_document_keeps_the_values_it_printed(ticket: Ticket, clerk: User) -> None:
    document = issued(ticket, clerk, "work_order")
    before = (document.digest, text_of(document))
    SpecValue.objects.filter(quantity="max_pressure").update(magnitude_si=700_000.0, typed="700 kPa")
    ticket.complaint_words = "something else"
    ticket.save()

    document.refresh_from_db()

    assert (document.digest, text_of(document)) == before
    assert stored_pdf(document) is not None
    assert "120 psi" in before[1]


@pytest.mark.usefixtures("no_layout")
def test_each_issue_is_the_next_revision(ticket: Ticket, clerk: User) -> None:
    first, second = (issued(ticket, clerk, "label") for _ in range(2))
    other_kind = issued(ticket, clerk, "customer_report")

    assert (first.revision, second.revision, other_kind.revision) == (1, 2, 1)
    assert logged(ticket)[:2] == [
        "Service report issued, revision 1",
        "Label issued, revision 2",
    ]


def test_the_page_carries_revision_and_the_digest_of_its_data(ticket: Ticket, clerk: User) -> None:
    document = issued(ticket, clerk, "work_order")

    assert document.data_digest == digest_of_paper(document.data)
    text = text_of(document)
    assert f"revision 1, {document.data['issue']['at']}" in text
    assert document.data_digest[:12] in text


def test_digest_does_not_depend_on_the_order_of_keys() -> None:
    assert digest_of_paper({"a": 1, "b": 2}) == digest_of_paper({"b": 2, "a": 1})
    assert digest_of_paper({"a": 1}) != digest_of_paper({"a": 2})


@pytest.mark.parametrize(
    ("paper", "points"), [("A4", (595.3, 841.9)), ("Letter", (612.0, 792.0)), ("100×62 mm", (283.5, 175.7))]
)
def test_papers_have_their_sizes(ticket: Ticket, clerk: User, paper: str, points: tuple[float, float]) -> None:
    """ISO 216 and ANSI sizes in points of 1/72 inch."""
    box = reader_of(issued(ticket, clerk, "customer_report", paper)).pages[0].mediabox

    assert (float(box.width), float(box.height)) == pytest.approx(points, abs=0.3)


@pytest.mark.usefixtures("no_layout")
def test_a_shop_prints_on_its_own_paper(ticket: Ticket, clerk: User) -> None:
    ticket.shop.paper = "Letter"
    ticket.shop.save()

    assert issued(ticket, clerk, "work_order").paper == "Letter"


def test_unknown_paper_is_refused(ticket: Ticket, clerk: User) -> None:
    with pytest.raises(UnknownPaper, match="choose one of A4, Letter"):
        issued(ticket, clerk, "work_order", "A3")
    assert not Document.objects.exists()


def _with_papers_of_the_till(ticket: Ticket) -> None:
    """Handed over and opened again: there is a receipt and a credit note to print."""
    ticket.part_lines.all().delete()
    ticket.labour_lines.create(words="Lowers", price=Decimal(80), at=timezone.now())
    Ticket.objects.filter(pk=ticket.pk).update(state="ready")
    hand_it_over(ticket, part("cash", "80"))
    open_again(ticket=ticket, reason="Wrong price", by=None, seen_version=ticket.version)


def test_no_receipt_is_printed_of_a_ticket_without_one(client: Client, ticket: Ticket, clerk: User) -> None:
    client.force_login(clerk)
    assertNotContains(client.get(reverse("counter:ticket", args=[ticket.number])), "Print receipt</button>")
    answer = client.post(reverse("documents:issue", args=[ticket.number, "receipt"]), follow=True)
    assertContains(answer, "No receipt is issued for this ticket yet.")
    assert not Document.objects.exists()


@pytest.mark.parametrize("kind", Document.Kind.values)
def test_every_document_has_its_template_and_its_button(client: Client, ticket: Ticket, clerk: User, kind: str) -> None:
    assert kind in PRINTABLE
    assert get_template(template_of(kind))
    _with_papers_of_the_till(ticket)
    client.force_login(clerk)
    page = client.get(reverse("counter:ticket", args=[ticket.number]))
    assertContains(page, f'action="{reverse("documents:issue", args=[ticket.number, kind])}"')
    assertContains(page, f"Print {Document.Kind(kind).label.lower()}</button>")


@pytest.mark.parametrize("kind", Document.Kind.values)
def test_documents_are_tagged_for_pdf_ua(ticket: Ticket, clerk: User, kind: str) -> None:
    """ISO 14289-1: tagged, with a language, a title that is shown, its identifier, and fonts embedded."""
    if kind in ("receipt", "credit_note"):
        _with_papers_of_the_till(ticket)
    reader = reader_of(issued(ticket, clerk, kind))
    catalog: Any = reader.trailer["/Root"]

    assert catalog["/MarkInfo"]["/Marked"]
    assert "/StructTreeRoot" in catalog
    assert catalog["/Lang"] == "en"
    assert catalog["/ViewerPreferences"]["/DisplayDocTitle"]
    assert reader.metadata is not None
    assert reader.metadata.title
    assert b"pdfuaid:part" in catalog["/Metadata"].get_object().get_data()
    fonts = [font.get_object() for page in reader.pages for font in cast(Any, page["/Resources"])["/Font"].values()]
    assert fonts
    assert all("Atkinson" in str(font["/BaseFont"]) for font in fonts)


def test_every_picture_has_words(ticket: Ticket, clerk: User) -> None:
    reader = reader_of(issued(ticket, clerk, "work_order"))

    figures = [element for element in elements_of(reader) if element.get("/S") == "/Figure"]

    assert figures
    assert all(figure.get("/Alt") for figure in figures)


def test_nothing_is_fetched_from_elsewhere(caplog: pytest.LogCaptureFixture) -> None:
    html = '<!doctype html><html lang="en"><title>x</title><img alt="x" src="http://127.0.0.1:9/x.png"><p>there</p>'

    pdf = pdf_of(html, "A4")

    assert pdf.startswith(b"%PDF")
    assert any("x.png" in message for message in caplog.messages)


def test_files_outside_static_are_not_read(caplog: pytest.LogCaptureFixture) -> None:
    pdf_of('<!doctype html><html lang="en"><title>x</title><img alt="x" src="file:///etc/hostname"><p>there</p>', "A4")

    assert any("may not fetch" in message for message in caplog.messages)


@pytest.mark.usefixtures("no_layout")
def test_an_altered_pdf_is_not_shown(ticket: Ticket, clerk: User, client: Client) -> None:
    document = issued(ticket, clerk, "label")
    with open(document.pdf.path, "ab") as file:
        file.write(b"altered")
    client.force_login(clerk)

    response = client.get(reverse("documents:pdf", args=[7, "label", 1]))

    assert response.status_code == 302
    assert stored_pdf(document) is None


def test_a_clerk_issues_and_opens_a_document(ticket: Ticket, clerk: User, client: Client) -> None:
    client.force_login(clerk)

    issued_response = client.post(reverse("documents:issue", args=[7, "label"]))
    shown = client.get(issued_response["Location"])

    assert shown["Content-Type"] == "application/pdf"
    assert 'filename="label-7-r1.pdf"' in shown["Content-Disposition"]
    assert shown.content.startswith(b"%PDF")


@pytest.mark.usefixtures("no_layout")
def test_another_shops_document_is_not_found(ticket: Ticket, clerk: User, client: Client) -> None:
    issued(ticket, clerk, "label")
    client.force_login(UserFactory())

    assert client.get(reverse("documents:pdf", args=[7, "label", 1])).status_code == 404
    assert client.post(reverse("documents:issue", args=[7, "label"])).status_code == 404


def test_an_unknown_kind_is_not_found(ticket: Ticket, clerk: User, client: Client) -> None:
    client.force_login(clerk)

    assert client.post(reverse("documents:issue", args=[7, "poster"])).status_code == 404


def test_without_the_libraries_the_shop_is_told_what_to_install(
    ticket: Ticket, clerk: User, client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(rendering, "_weasyprint", _refuse)
    monkeypatch.setattr("workshop.documents.issuing.pdf_of", lambda html, paper: _refuse())
    client.force_login(clerk)

    response = client.post(reverse("documents:issue", args=[7, "label"]), follow=True)

    assert "Install: libpango-1.0-0" in response.content.decode()
    assert not Document.objects.exists()


def _refuse() -> Any:
    raise PdfUnavailable("PDFs need system libraries that are not here. Install: libpango-1.0-0")


def test_gathering_takes_the_same_queries_however_much_there_is(
    ticket: Ticket, clerk: User, django_assert_max_num_queries: Callable[..., Any]
) -> None:
    from workshop.documents.issuing import draft

    for _ in range(40):
        PartLineFactory(ticket=ticket, part=PartFactory())
        ConditionNoteFactory(ticket=ticket)

    with django_assert_max_num_queries(24):
        draft(ticket=Ticket.objects.with_names().get(pk=ticket.pk), kind="work_order", ticket_address=ADDRESS)
