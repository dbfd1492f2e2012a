"""What people are told when work done apart is not done: beside the field, or on the page, with nothing kept of it."""

from __future__ import annotations

import io
import logging
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from pytest_django.asserts import assertContains

from tests.factories import RunFactory, StepFactory, TicketFactory, TicketRunFactory, UserFactory
from tests.workshop.hostile_files import GPX, JPEG
from workshop.apart import kinds
from workshop.apart.working import NotDone, TooBusy, TookTooLong, TookTooMuch, WorkerEnded
from workshop.issued.models import Document
from workshop.links.links import make_link
from workshop.models import Photo, Sheet
from workshop.running.logs import ErrorLog
from workshop.staff.models import User
from workshop.tickets.models import Ticket
from workshop.web.refused_uploads import OF_A_LINK, OF_AN_ADDRESS

pytestmark = pytest.mark.django_db
Fails = Callable[[str, type[NotDone]], None]
REASONS = [TooBusy, TookTooLong, TookTooMuch, WorkerEnded]
BUSY, REFUSED, TOO_OFTEN = 503, 422, 429


@pytest.fixture
def clerk() -> User:
    return UserFactory()


@pytest.fixture
def ticket(clerk: User) -> Ticket:
    return TicketFactory(shop=clerk.shop)


@pytest.fixture
def desk(client: Client, clerk: User) -> Client:
    client.force_login(clerk)
    return client


@pytest.fixture
def secret(ticket: Ticket) -> str:
    return make_link(ticket=ticket, by=None)[1]


@pytest.fixture
def fails(monkeypatch: pytest.MonkeyPatch) -> Fails:
    """Have the work that a module asks for not done."""

    def fail(module: str, reason: type[NotDone]) -> None:
        def refuse(kind: kinds.Kind, *_: Any, **__: Any) -> None:
            raise reason(kind)

        monkeypatch.setattr(f"{module}.work_apart", refuse)

    return fail


def sent(content: bytes, name: str = "a.jpg") -> SimpleUploadedFile:
    return SimpleUploadedFile(name, content)


@pytest.mark.parametrize("reason", REASONS)
def test_photos_at_the_counter_are_refused_beside_the_field_with_what_was_typed(
    desk: Client, ticket: Ticket, fails: Fails, reason: type[NotDone]
) -> None:
    fails("workshop.tickets.photos", reason)
    address = reverse("counter:add_photos", args=[ticket.number])
    page = desk.post(address, {"photos": sent(JPEG), "caption": "Left stanchion"})
    assertContains(page, str(reason(kinds.PICTURES)), status_code=REFUSED)
    assertContains(page, "Left stanchion", status_code=REFUSED)
    assert not Photo.objects.exists()


def bench_photo(client: Client, ticket: Ticket) -> Any:
    run = RunFactory()
    TicketRunFactory(ticket=ticket, run=run)
    StepFactory(checklist=run.checklist, key="look")
    mechanic = UserFactory(shop=ticket.shop, mechanic=True)
    client.force_login(mechanic)
    client.raise_request_exception = False
    return client.post(
        reverse("bench:photo", args=[ticket.number, run.pk, "look"]),
        {"photo": sent(JPEG)},
        headers={"HX-Request": "true"},
    )


def test_a_tablet_keeps_its_photo_and_sends_it_again_where_others_wait(
    client: Client, ticket: Ticket, fails: Fails
) -> None:
    fails("workshop.tickets.photos", TooBusy)
    answer = bench_photo(client, ticket)
    assertContains(answer, "The shop is very busy", status_code=BUSY)
    assertContains(answer, "Several pictures are being read just now", status_code=BUSY)
    assert answer["Retry-After"]


def test_that_others_wait_is_no_error_of_the_shops(
    client: Client, ticket: Ticket, fails: Fails, tmp_path: Path
) -> None:
    fails("workshop.tickets.photos", TooBusy)
    kept = ErrorLog(str(tmp_path / "errors.jsonl"))
    logging.getLogger("django.request").addHandler(kept)
    try:
        assert bench_photo(client, ticket).status_code == BUSY
    finally:
        logging.getLogger("django.request").removeHandler(kept)
    assert not kept.path.exists()


def test_a_worker_that_broke_is_an_error_the_owner_sees(tmp_path: Path) -> None:
    kept = ErrorLog(str(tmp_path / "errors.jsonl"))
    for reason, seen in ((TooBusy, False), (WorkerEnded, True)):
        raised = reason(kinds.PICTURES)
        told = (type(raised), raised, None)
        kept.handle(logging.LogRecord("django.request", logging.ERROR, "", 0, "Service Unavailable", (), told))
        assert kept.path.exists() is seen


@pytest.mark.parametrize("reason", REASONS)
def test_a_paper_that_is_not_made_is_said_on_the_tickets_page(
    desk: Client, ticket: Ticket, fails: Fails, reason: type[NotDone]
) -> None:
    fails("workshop.documents.rendering", reason)
    page = desk.post(reverse("documents:issue", args=[ticket.number, "label"]), follow=True)
    assertContains(page, str(reason(kinds.PAPERS)))
    assert not Document.objects.exists()


@pytest.mark.parametrize("reason", REASONS)
def test_a_sheet_that_is_not_read_is_refused_beside_the_field(
    client: Client, ticket: Ticket, fails: Fails, reason: type[NotDone]
) -> None:
    client.force_login(UserFactory(shop=ticket.shop, owner=True))
    fails("workshop.sheets.steps", reason)
    page = client.post(reverse("office:move_in", args=["customers"]), {"file": sent(b"name\nAda", "a.csv")})
    assertContains(page, str(reason(kinds.SHEETS)), status_code=REFUSED)
    assert not Sheet.objects.exists()


@pytest.mark.parametrize("reason", REASONS)
def test_a_customer_is_told_beside_the_field(secret: str, fails: Fails, reason: type[NotDone]) -> None:
    fails("workshop.intervals.sent", reason)
    page = Client().post(reverse("customer:send_tracks", args=[secret]), {"tracks": sent(GPX, "a.gpx")})
    assertContains(page, str(reason(kinds.TRACKS)), status_code=REFUSED)


def busy(kind: kinds.Kind, *_: Any) -> None:
    raise TooBusy(kind)


class TestTooManyRefused:
    def send(self, secret: str, content: bytes = b"no track") -> int:
        upload = io.BytesIO(content)
        upload.name = "a.gpx"
        answer = Client().post(reverse("customer:send_tracks", args=[secret]), {"tracks": upload})
        if answer.status_code == TOO_OFTEN:
            assertContains(answer, "Call us, and we will help you.", status_code=TOO_OFTEN)
        return answer.status_code

    def test_of_one_link(self, secret: str, ticket: Ticket) -> None:
        assert [self.send(secret) for _ in range(OF_A_LINK)] == [REFUSED] * OF_A_LINK
        assert self.send(secret, GPX) == TOO_OFTEN
        another = make_link(ticket=TicketFactory(shop=ticket.shop), by=None)[1]
        assert self.send(another, GPX) == 302

    def test_of_one_address_over_many_links(self, ticket: Ticket) -> None:
        links = [make_link(ticket=TicketFactory(shop=ticket.shop), by=None)[1] for _ in range(6)]
        statuses = [self.send(links[n % 6]) for n in range(OF_AN_ADDRESS)]
        assert statuses == [REFUSED] * OF_AN_ADDRESS
        assert self.send(make_link(ticket=ticket, by=None)[1], GPX) == TOO_OFTEN

    def test_what_is_taken_and_what_waits_counts_for_nothing(self, secret: str) -> None:
        assert [self.send(secret, GPX) for _ in range(OF_A_LINK + 1)] == [302] * (OF_A_LINK + 1)
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr("workshop.intervals.sent.work_apart", busy)
            assert [self.send(secret, GPX) for _ in range(OF_A_LINK + 1)] == [REFUSED] * (OF_A_LINK + 1)
        assert self.send(secret, GPX) == 302

    def test_at_the_counter_too(self, desk: Client, ticket: Ticket) -> None:
        address = reverse("intervals:tracks", args=[ticket.unit_id])
        for _ in range(OF_AN_ADDRESS):
            assert desk.post(address, {"tracks": sent(b"no track", "a.gpx")}).status_code == REFUSED
        page = desk.post(address, {"tracks": sent(GPX, "a.gpx")})
        assertContains(page, "no more are looked at for an hour", status_code=REFUSED)
