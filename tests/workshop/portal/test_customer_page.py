"""The customer's link and page: what it shows, and to whom it does not."""

from __future__ import annotations

import datetime as dt
import io
from typing import Any
from urllib.parse import parse_qs, unquote, urlsplit

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from tests.factories import CustomerFactory, DocumentFactory, PhotoFactory, TicketFactory, UserFactory
from tests.published.test_gpx import at, written
from tests.workshop.reminders.due_units import due_unit, queued
from workshop.intervals.models import Ride, WeeklyHours
from workshop.links.links import LinkEnded, NoSuchLink, make_link, open_link, withdraw_link
from workshop.models import Customer, CustomerLink, Document, Message, Ticket
from workshop.portal.page import customer_page
from workshop.reminders.opt_out import stop_token

pytestmark = pytest.mark.django_db


@pytest.fixture
def ticket() -> Ticket:
    return TicketFactory.create(state=Ticket.State.ON_THE_BENCH)


@pytest.fixture
def secret(ticket: Ticket) -> str:
    return make_link(ticket=ticket, by=None)[1]


def page_of(secret: str, client: Client | None = None) -> Any:
    return (client or Client()).get(reverse("customer:page", args=[secret]))


def test_shows_the_ticket_without_a_login(ticket: Ticket, secret: str) -> None:
    answer = page_of(secret)
    assert answer.status_code == 200
    page = answer.content.decode()
    assert "A mechanic is working on it" in page
    assert f"{ticket.promised_on:%A}" in page
    assert ticket.complaint_words in page
    assert "no-cache" in answer["Cache-Control"]
    assert CustomerLink.objects.get().last_opened_at is not None


@pytest.mark.parametrize(
    ("state", "waiting_for", "words"),
    [
        ("booked_in", "", "waiting its turn"),
        ("on_the_bench", "", "working on it"),
        ("waiting", "parts", "waiting for parts"),
        ("waiting", "customer", "waiting for your answer"),
        ("ready", "", "It is ready"),
        ("handed_back", "", "You have it back"),
        ("called_off", "", "cancelled"),
    ],
)
def test_every_state_has_plain_words(ticket: Ticket, state: str, waiting_for: str, words: str) -> None:
    ticket.state, ticket.waiting_for = state, waiting_for
    page = customer_page(ticket)
    assert words in page.headline
    assert [stage.is_now for stage in page.stages].count(True) == (0 if state == "called_off" else 1)


def test_the_secret_is_long_random_and_not_kept(ticket: Ticket) -> None:
    secrets = {make_link(ticket=ticket, by=None)[1] for _ in range(20)}
    assert len(secrets) == 20
    assert all(len(secret) >= 43 for secret in secrets)  # 32 bytes in base64
    stored = "".join(CustomerLink.objects.values_list("secret_digest", flat=True))
    assert not any(secret in stored for secret in secrets)


@pytest.mark.parametrize("forged", ["x", "A" * 43, "..", "ticket"])
def test_a_forged_link_opens_nothing(secret: str, forged: str) -> None:
    answer = page_of(forged)
    assert answer.status_code == 404
    with pytest.raises(NoSuchLink):
        open_link(forged)


def test_a_digest_is_no_secret(secret: str) -> None:
    assert page_of(CustomerLink.objects.get().secret_digest).status_code == 404


def test_a_withdrawn_link_says_so(ticket: Ticket, secret: str) -> None:
    assert withdraw_link(link=CustomerLink.objects.get(), by=None)
    assert not withdraw_link(link=CustomerLink.objects.get(), by=None)
    answer = page_of(secret)
    assert answer.status_code == 410
    page = answer.content.decode()
    assert "withdrawn" in page
    assert ticket.shop.phone in page
    assert ticket.complaint_words not in page


def test_an_expired_link_says_so(secret: str) -> None:
    past = timezone.now() - dt.timedelta(days=1)
    CustomerLink.objects.update(made_at=past - dt.timedelta(days=1), expires_at=past)
    answer = page_of(secret)
    assert answer.status_code == 410
    assert "expired" in answer.content.decode()
    with pytest.raises(LinkEnded):
        open_link(secret)


def test_an_ended_link_takes_no_report(ticket: Ticket, secret: str) -> None:
    withdraw_link(link=CustomerLink.objects.get(), by=None)
    assert Client().post(reverse("customer:say_hours", args=[secret]), {"hours_per_week": "4"}).status_code == 410
    assert not WeeklyHours.objects.exists()


def test_only_photos_for_the_customer_of_this_ticket(ticket: Ticket, secret: str) -> None:
    shown = PhotoFactory.create(ticket=ticket, for_customer=True, caption="Worn seal")
    hidden = PhotoFactory.create(ticket=ticket, caption="For us")
    other = PhotoFactory.create(for_customer=True)
    for photo in (shown, hidden, other):
        default_storage.save(photo.thumbnail.name, ContentFile(b"jpeg"))
    page = page_of(secret).content.decode()
    assert "Worn seal" in page
    assert "For us" not in page
    codes = [
        Client().get(reverse("customer:photo", args=[secret, photo.pk, "small"])).status_code
        for photo in (shown, hidden, other)
    ]
    assert codes == [200, 404, 404]


def test_the_newest_report_can_be_opened(ticket: Ticket, secret: str) -> None:
    assert Client().get(reverse("customer:report", args=[secret])).status_code == 404
    DocumentFactory.create(ticket=ticket, kind=Document.Kind.WORK_ORDER)
    assert customer_page(ticket).report is None
    import hashlib

    for revision in (1, 2):
        content = b"%PDF revision " + str(revision).encode()
        name = default_storage.save(f"documents/{revision}.pdf", ContentFile(content))
        DocumentFactory.create(
            ticket=ticket,
            kind=Document.Kind.CUSTOMER_REPORT,
            revision=revision,
            pdf=name,
            digest=hashlib.sha256(content).hexdigest(),
        )
    answer = Client().get(reverse("customer:report", args=[secret]))
    assert answer.content == b"%PDF revision 2"
    assert "Open the report" in page_of(secret).content.decode()


def test_the_customer_tells_hours(ticket: Ticket, secret: str) -> None:
    typed = {"hours_per_week": "3.5", "conditions": "wet"}
    answer = Client().post(reverse("customer:say_hours", args=[secret]), typed, follow=True)
    assert "Thank you" in answer.content.decode()
    row = WeeklyHours.objects.get()
    assert (row.unit, row.hours_per_week, row.conditions, row.said_by_customer) == (ticket.unit, 3.5, "wet", True)


def test_works_with_the_csrf_check_on(secret: str) -> None:
    client = Client(enforce_csrf_checks=True)
    page_of(secret, client)
    token = client.cookies["csrftoken"].value
    typed = {"hours_per_week": "2", "conditions": "dry", "csrfmiddlewaretoken": token}
    assert client.post(reverse("customer:say_hours", args=[secret]), typed).status_code == 302
    assert client.post(reverse("customer:say_hours", args=[secret]), {"hours_per_week": "2"}).status_code == 403


def test_the_page_lets_the_browser_send_its_origin(secret: str) -> None:
    """With `no-referrer` a browser sends `Origin: null`, and every form of the page would be refused."""
    assert page_of(secret)["Referrer-Policy"] == "same-origin"


@pytest.mark.parametrize("typed", ["", "many", "-1", "200", "nan"])
def test_hours_that_cannot_be_are_refused_and_kept(secret: str, typed: str) -> None:
    answer = Client().post(reverse("customer:say_hours", args=[secret]), {"hours_per_week": typed, "conditions": "dry"})
    assert answer.status_code == 422
    assert f'value="{typed}"' in answer.content.decode() or not typed
    assert not WeeklyHours.objects.exists()


def test_the_customer_sends_rides_once(ticket: Ticket, secret: str) -> None:
    file = written([at(0.002 * n, 60 * n) for n in range(31)])
    for _ in range(2):
        upload = SimpleUploadedFile("ride.gpx", file)
        answer = Client().post(reverse("customer:send_tracks", args=[secret]), {"tracks": upload}, follow=True)
        assert answer.status_code == 200
    assert "counted before" in answer.content.decode()
    ride = Ride.objects.get()
    assert (ride.unit, ride.moving_s) == (ticket.unit, 1800.0)


@pytest.mark.parametrize("content", [b"", b"no gpx", b"PK\x03\x04 broken", b"<!DOCTYPE gpx><gpx/>"])
def test_a_file_that_cannot_be_read_is_refused_with_a_reason(secret: str, content: bytes) -> None:
    upload = SimpleUploadedFile("ride.gpx", content)
    answer = Client().post(reverse("customer:send_tracks", args=[secret]), {"tracks": upload})
    assert answer.status_code == 422
    assert "ride.gpx" in answer.content.decode()


def test_without_a_file_it_asks_for_one(secret: str) -> None:
    answer = Client().post(reverse("customer:send_tracks", args=[secret]), {})
    assert answer.status_code == 422
    assert "Choose a GPX file" in answer.content.decode()


def test_a_leaked_link_cannot_fill_the_table(secret: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("workshop.portal.views.MOST_SAID_A_DAY", 0)
    typed = {"hours_per_week": "3", "conditions": "dry"}
    assert Client().post(reverse("customer:say_hours", args=[secret]), typed).status_code == 422


def test_hours_are_not_taken_for_a_unit_that_changed_hands(ticket: Ticket, secret: str) -> None:
    ticket.unit.customer = CustomerFactory.create(shop=ticket.shop)
    ticket.unit.save()
    assert "Next service" not in page_of(secret).content.decode()
    assert Client().post(reverse("customer:say_hours", args=[secret]), {"hours_per_week": "3"}).status_code == 404


def test_the_page_takes_the_same_queries(ticket: Ticket, secret: str) -> None:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    def queries() -> int:
        with CaptureQueriesContext(connection) as captured:
            page_of(secret)
        return len(captured)

    page_of(secret)  # where a link was never opened from, one more asks whether that address has to wait
    few = queries()
    for _ in range(6):
        PhotoFactory.create(ticket=ticket, for_customer=True)
        WeeklyHours.objects.create(unit=ticket.unit, hours_per_week=2, since=dt.date(2026, 1, 1), at=timezone.now())
    assert queries() == few


def test_staff_make_a_link_and_see_it_once() -> None:
    client = Client()
    clerk = UserFactory.create()
    client.force_login(clerk)
    ticket = TicketFactory.create(shop=clerk.shop)
    answer = client.post(reverse("customer:make_link", args=[ticket.number]))
    page = answer.content.decode()
    address = page.split("readonly>")[1].split("</textarea>")[0]
    assert Client().get(address).status_code == 200
    assert "<svg" in page
    assert ticket.events.filter(kind="link_made").exists()
    link = CustomerLink.objects.get()
    client.post(reverse("customer:withdraw_link", args=[ticket.number, link.pk]))
    assert Client().get(address).status_code == 410


def test_an_address_cannot_put_a_recipient_into_the_email() -> None:
    """RFC 6068: what follows a question mark in a mailto address are headers."""
    client, clerk = Client(), UserFactory.create()
    client.force_login(clerk)
    customer = CustomerFactory(shop=clerk.shop, email="a?bcc=x%40y.example&z=@b.example", phone="0555 1?body=Pay")
    customer.clean_fields(exclude=["created_by"])  # as a form takes it
    ticket = TicketFactory.create(shop=clerk.shop, customer=customer)
    answer = client.post(reverse("customer:make_link", args=[ticket.number]))
    mail, text = urlsplit(answer.context["mail_to"]), urlsplit(answer.context["text_to"])
    assert unquote(mail.path) == customer.email
    assert set(parse_qs(mail.query)) == {"subject", "body"}
    assert parse_qs(text.query)["body"] != ["Pay"]
    assert set(parse_qs(text.query)) == {"body"}
    page = client.get(reverse("counter:customer", args=[customer.pk])).content.decode()
    assert 'href="mailto:a%3Fbcc' in page
    assert "tel:05551%3Fbody" in page


def test_links_are_made_by_the_shop_alone(ticket: Ticket) -> None:
    address = reverse("customer:make_link", args=[ticket.number])
    assert Client().post(address).status_code == 401
    stranger = Client()
    stranger.force_login(UserFactory.create(owner=True))
    assert stranger.post(address).status_code == 404
    mechanic = Client()
    mechanic.force_login(UserFactory.create(shop=ticket.shop, mechanic=True))
    assert mechanic.post(address).status_code == 403
    assert not CustomerLink.objects.exists()


def test_a_link_stops_reminders_without_a_login_and_twice_is_harmless(ticket: Ticket) -> None:
    unit = due_unit(ticket.shop)
    queued(unit)
    address = reverse("customer:stop", args=[stop_token(unit.customer)])
    assert "Stop reminders?" in Client().get(address).content.decode()
    unit.customer.refresh_from_db()
    assert unit.customer.agreed_to_reminders  # opening it, as mail scanners do, changes nothing
    for _ in range(2):
        answer = Client(enforce_csrf_checks=True).post(address, {"List-Unsubscribe": "One-Click"})
        assert answer.status_code == 200
        assert "You get no more reminders" in answer.content.decode()
    assert not Customer.objects.get(pk=unit.customer.pk).agreed_to_reminders
    assert Message.objects.get().state == Message.State.CALLED_OFF


@pytest.mark.parametrize("token", ["forged", "MQ:1tXyZ:AAAA", "a:b:c"])
def test_a_forged_stop_link_changes_nothing(token: str) -> None:
    assert Client().post(reverse("customer:stop", args=[token])).status_code == 404


def test_nothing_of_the_page_is_looked_up_by_number(ticket: Ticket, secret: str) -> None:
    """Another ticket's report, photo or hours cannot be reached with this secret: no address names a ticket."""
    from workshop.portal.urls import urlpatterns

    open_routes = [str(route.pattern) for route in urlpatterns if "<str:secret>" in str(route.pattern)]
    assert open_routes
    assert not any("number" in route for route in open_routes)


def test_a_huge_upload_is_refused(secret: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("workshop.intervals.uploads.MOST_UPLOADED_BYTES", 1000)
    upload = io.BytesIO(b"x" * 2000)
    upload.name = "big.gpx"
    answer = Client().post(reverse("customer:send_tracks", args=[secret]), {"tracks": upload})
    assert answer.status_code == 422
    assert "larger than" in answer.content.decode()
