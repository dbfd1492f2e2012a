"""Photos that the shop chose, and the drawing of what was wrong: on screen, report, estimate and customer's page."""

from __future__ import annotations

import io

import pypdf
import pytest
from django.test import Client
from django.urls import reverse
from PIL import Image

from tests.factories import PartFactory, PartLineFactory, TicketFactory, UserFactory
from tests.flagship import through_to_the_proof
from tests.logbook import logged
from tests.pdf_structure import elements_of
from tests.shipped import shipped_folder
from tests.squeezed import squeezed
from tests.sucked_down import sucked_down_ticket
from workshop.documents.customer_report import gather_customer_report
from workshop.documents.estimate import gather_estimate
from workshop.documents.rendering import html_of, pdf_of
from workshop.links.links import make_link
from workshop.plots.fork_drawing import PLACE_OF, place_of
from workshop.staff.models import User
from workshop.tickets.models import Photo, Ticket
from workshop.tickets.photos import DecodedPhoto, add_photo, choose_photo, decode_photo

pytestmark = pytest.mark.django_db


def picture(shade: int = 90) -> DecodedPhoto:
    whole = io.BytesIO()
    Image.new("RGB", (640, 480), (shade, 110, 120)).save(whole, "JPEG")
    whole.seek(0)
    return decode_photo(whole)


def shown(client: Client, photo: Photo, moment: str) -> str:
    """The ticket's page after the button was pressed."""
    address = reverse("counter:show_photo", args=[photo.ticket.number, photo.pk])
    return squeezed(client.post(address, {"moment": moment}, follow=True).content.decode())


def test_a_photo_is_chosen_and_taken_back_on_the_tickets_page(client: Client) -> None:
    clerk = UserFactory()
    client.force_login(clerk)
    ticket = TicketFactory(shop=clerk.shop)
    photo = add_photo(ticket=ticket, by=clerk, photo=picture(), caption="Scored tube")

    assert not Photo.objects.get().for_customer
    page = shown(client, photo, "before")
    assert "Before the work" in page
    assert "Not for the customer" in page
    assert Photo.objects.get().for_customer
    assert "After the work" in shown(client, photo, "after")
    assert "No longer" not in shown(client, photo, "")
    kept = Photo.objects.get()
    assert (kept.moment, kept.for_customer) == ("", False)
    assert "Choose before or after" in shown(client, photo, "never")
    assert not Photo.objects.get().for_customer
    lines = logged(ticket)
    assert [line for line in lines if "for the customer" in line] == [
        "Photo no longer for the customer: Scored tube",
        "Photo for the customer, after the work: Scored tube",
        "Photo for the customer, before the work: Scored tube",
    ]


def test_a_photo_of_another_ticket_or_shop_is_not_chosen(client: Client) -> None:
    clerk = UserFactory()
    client.force_login(clerk)
    other = TicketFactory()
    photo = add_photo(ticket=other, by=None, photo=picture())
    mine = TicketFactory(shop=clerk.shop)

    for ticket in (mine, other):
        address = reverse("counter:show_photo", args=[ticket.number, photo.pk])
        assert client.post(address, {"moment": "before"}).status_code == 404
    assert not Photo.objects.get().for_customer


@pytest.fixture
def freed(client: Client) -> Ticket:
    """The sucked-down fork, freed at its maximum: grease in the port was found; two photos chosen and one not."""
    ticket = sucked_down_ticket()
    client.force_login(User.objects.get(username="mechanic"))
    through_to_the_proof(client)
    clerk = User.objects.get(username="counter")
    for number, moment in enumerate(("before", "after", "")):
        photo = add_photo(ticket=ticket, by=clerk, photo=picture(number), caption=f"Shot {number}")
        if moment:
            choose_photo(photo=photo, by=clerk, moment=moment)
    return Ticket.objects.with_names().get(pk=ticket.pk)


def printed(kind: str, data: dict[str, object]) -> pypdf.PdfReader:
    pdf = pdf_of(html_of(f"documents/{kind}.html", {**data, "data_digest": "0" * 12}), "A4")
    return pypdf.PdfReader(io.BytesIO(pdf))


def words_for_pictures(reader: pypdf.PdfReader) -> list[str]:
    return [str(one["/Alt"]) for one in elements_of(reader) if one.get("/S") == "/Figure"]


# As the card of a fork that sags too far says it.
SET_UP = {
    "pressure": "128.7 psi",
    "sag_range": "18 mm to 24 mm",
    "sentences": [
        "It leaves with 82 psi; at that we read 30 mm of sag, outside the range.",
        "Set 128.7 psi for 21 mm of sag, 18 % of the travel.",
    ],
    "warnings": [],
    "assumed": [
        "The load on the fork is what the measured sag and pressure tell of; friction is left out.",
        "Pressures are those after cycling, chambers equalised; the lower legs closed where it is ridden.",
    ],
    "checked": True,
}


SETTINGS = [
    {"label": label, "arrival": "", "hand_back": "as agreed with the rider"}
    for label in ("Air pressure", "Sag", "Rest depth", "Rebound, clicks from closed")
]
DONE = [{"text": f"We took part {number} of the fork apart, looked at it and put it back."} for number in range(26)]
DRAWN = "Drawing of a fork cut open: a ring marks the small passage beside the air piston."


def test_the_report_shows_cause_drawing_and_chosen_photos_on_its_first_page(freed: Ticket) -> None:
    freed.state = Ticket.State.READY
    data = gather_customer_report(freed, "")
    reader = printed("customer_report", data)
    first = " ".join(reader.pages[0].extract_text().split())

    assert [row["caption"] for row in data["photos_first"]] == ["Before the work: Shot 0", "After the work: Shot 1"]
    assert {DRAWN, "Before the work: Shot 0", "After the work: Shot 1"} <= set(words_for_pictures(reader))
    assert "Shot 2" not in first
    for words in ("Where it was: the small passage", "What was done", "How it is set now"):
        assert words in first, words
    assert first.index("Equalising port blocked") < first.index("Not the cause")
    assert first.count("Not the cause") == 1
    assert reader.pages[1].extract_text().startswith("The details")


def test_a_usual_report_is_one_page_and_an_appendix(freed: Ticket) -> None:
    """A bill of seven lines and a set-up card of its full length: what is to be done next is not pushed overleaf."""
    Photo.objects.all().delete()
    for number in range(5):
        part = PartFactory(description=f"Wiper of size {number}, 34 mm stanchion")
        PartLineFactory(ticket=freed, part=part, quantity=2, status="used")
    freed.state = Ticket.State.READY
    data = gather_customer_report(freed, "")
    data |= {"done": DONE, "settings": SETTINGS}
    in_pieces = [" ".join(page.extract_text().split()) for page in printed("customer_report", data).pages]
    data |= {"set_up": SET_UP, "pieces": {"words": [], "reason": ""}, "short_right": False}
    pages = [" ".join(page.extract_text().split()) for page in printed("customer_report", data).pages]

    assert "Wiper of size 4, 34 mm stanchion" in pages[0]
    assert "Next service" in pages[0]
    assert pages[1].startswith("The details")
    assert "Do not ride it" in in_pieces[0]
    assert "Next service" not in in_pieces[0]
    assert "Wiper of size 4, 34 mm stanchion T-" in in_pieces[0]  # the bill stands in the column that is empty then
    assert in_pieces[1].startswith("The details")


def test_the_estimate_says_what_was_found_in_the_words_of_the_report(freed: Ticket, client: Client) -> None:
    data = gather_estimate(freed, "")
    reader = printed("estimate", data)
    text = " ".join(" ".join(page.extract_text() for page in reader.pages).split())
    (found,) = gather_customer_report(freed, "")["searches"][0]["found"]

    assert " ".join(f"{found['title']}. {found['text']}".split()) in text
    assert text.index(found["title"]) < text.index("What it would cost")
    assert {DRAWN, "Before the work: Shot 0"} <= set(words_for_pictures(reader))
    assert "Shot 1" not in text

    issue = reverse("documents:issue", args=[freed.number, "estimate"])
    client.post(issue)
    _, secret = make_link(ticket=freed, by=User.objects.get(username="counter"))
    page = squeezed(Client().get(reverse("customer:page", args=[secret])).content.decode())
    assert page.index(found["text"]) < page.index("Read the estimate as PDF")
    assert page.index("Before the work: Shot 0") < page.index("Read the estimate as PDF")


def test_a_lost_picture_is_said_and_stops_no_paper(freed: Ticket) -> None:
    lost = freed.photos.get(moment="before")
    lost.thumbnail.storage.delete(str(lost.thumbnail.name))

    text = printed("estimate", gather_estimate(freed, "")).pages[0].extract_text()
    assert "not in the store any more" in " ".join(text.split())


def test_every_drawing_is_of_a_cause_that_is_shipped() -> None:
    shipped = {cause.key for plan in shipped_folder().checklists for cause in plan.causes}

    assert set(PLACE_OF) <= shipped
    assert place_of("low-pressure", "fork") is not None
    assert place_of("low-pressure", "shock") is None
    assert place_of("made-up", "fork") is None
