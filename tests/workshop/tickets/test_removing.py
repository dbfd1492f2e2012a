"""A photo or a mark taken off a ticket: kept as removed, shown and printed nowhere."""

from __future__ import annotations

import io

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from tests.factories import ConditionNoteFactory, PhotoFactory, TicketFactory, UserFactory
from tests.full_shop import small_jpeg
from tests.logbook import logged
from workshop.documents.photos_block import photo_rows
from workshop.documents.work_order import gather_work_order
from workshop.links.links import make_link
from workshop.models import ConditionNote, Photo, Ticket, User
from workshop.privacy.erasing import erase_customer
from workshop.privacy.export import gather_person
from workshop.tickets.photos import add_photo, decode_photo
from workshop.tickets.removing import remove_mark, remove_photo
from workshop.web.versions import StaleVersion

pytestmark = pytest.mark.django_db
WHY = "It is of another fork"


@pytest.fixture
def ticket() -> Ticket:
    made: Ticket = TicketFactory(state="on_the_bench")
    return made


@pytest.fixture
def mechanic(client: Client, ticket: Ticket) -> User:
    made: User = UserFactory(shop=ticket.shop, mechanic=True)
    client.force_login(made)
    return made


@pytest.fixture
def photo(ticket: Ticket) -> Photo:
    made: Photo = PhotoFactory(ticket=ticket, caption="Crown from below", for_customer=True, moment="before")
    return made


@pytest.fixture
def mark(ticket: Ticket) -> ConditionNote:
    made: ConditionNote = ConditionNoteFactory(ticket=ticket, place="Lower legs", text="Deep scratch")
    return made


def test_what_is_removed_is_kept_and_the_logbook_says_who_and_why(
    ticket: Ticket, photo: Photo, mark: ConditionNote, mechanic: User
) -> None:
    remove_photo(ticket=ticket, photo=photo, by=mechanic, seen_version=1, reason=WHY)
    remove_mark(ticket=ticket, note=mark, by=mechanic, seen_version=2, reason=WHY)
    assert (list(ticket.photos.all()), list(ticket.condition_notes.all())) == ([], [])
    for kept in (Photo.with_removed.get(pk=photo.pk), ConditionNote.with_removed.get(pk=mark.pk)):
        assert kept.removed_by == mechanic
        assert kept.removed_at is not None
    assert logged(ticket)[:2] == [
        f"Mark removed. Lower legs: Deep scratch. Why: {WHY}", f"Photo removed: Crown from below. Why: {WHY}",
    ]  # fmt: skip


def test_no_screen_and_no_paper_has_it(
    client: Client, ticket: Ticket, photo: Photo, mark: ConditionNote, mechanic: User
) -> None:
    _, secret = make_link(ticket=ticket, by=None)

    def all_of_it() -> str:
        pages = [
            reverse("counter:ticket", args=[ticket.number]), reverse("bench:ticket", args=[ticket.number]),
            reverse("customer:page", args=[secret]), reverse("counter:put_right", args=[ticket.number]),
        ]  # fmt: skip
        papers = [gather_work_order(ticket, "https://example.org/"), photo_rows(ticket)]
        return " ".join([*(client.get(page).content.decode() for page in pages), str(papers)])

    before = all_of_it()
    assert "Crown from below" in before
    assert before.count("Deep scratch") >= 4
    remove_photo(ticket=ticket, photo=photo, by=mechanic, seen_version=1, reason=WHY)
    remove_mark(ticket=ticket, note=mark, by=mechanic, seen_version=2, reason=WHY)
    after = all_of_it()
    assert "Crown from below" not in after
    assert "Deep scratch" not in after
    for address in (
        reverse("counter:photo", args=[photo.pk]), reverse("counter:small_photo", args=[photo.pk]),
        reverse("customer:photo", args=[secret, photo.pk, "small"]),
    ):  # fmt: skip
        assert client.get(address).status_code == 404


def test_a_removed_photo_sent_again_by_a_tablet_stays_removed(ticket: Ticket, mechanic: User) -> None:
    decoded = decode_photo(io.BytesIO(small_jpeg()))
    photo = add_photo(ticket=ticket, by=mechanic, photo=decoded)
    remove_photo(ticket=ticket, photo=photo, by=mechanic, seen_version=1, reason=WHY)
    again = add_photo(ticket=ticket, by=mechanic, photo=decoded, client_id=photo.client_id)
    assert again.pk == photo.pk
    assert not ticket.photos.exists()


def test_a_person_s_export_says_it_was_removed_and_erasing_takes_it(
    ticket: Ticket, photo: Photo, mark: ConditionNote
) -> None:
    remove_photo(ticket=ticket, photo=photo, by=None, seen_version=1, reason=WHY)
    remove_mark(ticket=ticket, note=mark, by=None, seen_version=2, reason=f"{ticket.customer.name} said so")
    held = gather_person(ticket.customer)
    assert held["photos"][0]["removed_at"] is not None
    assert held["tickets"][0]["condition"][0]["removed_at"] is not None
    Ticket.objects.filter(pk=ticket.pk).update(state="called_off")
    erase_customer(customer=ticket.customer, by=None, with_photos=True)
    assert not Photo.with_removed.exists()
    assert ticket.customer.name not in str(logged(ticket))


@pytest.mark.parametrize("removing", ["mark", "photo"])
def test_without_a_reason_or_past_another_s_change_nothing_is_removed(
    ticket: Ticket, photo: Photo, mark: ConditionNote, removing: str
) -> None:
    def remove(seen: int, reason: str) -> None:
        if removing == "mark":
            remove_mark(ticket=ticket, note=mark, by=None, seen_version=seen, reason=reason)
        else:
            remove_photo(ticket=ticket, photo=photo, by=None, seen_version=seen, reason=reason)

    with pytest.raises(ValidationError, match="Say why"):
        remove(1, " ")
    with pytest.raises(StaleVersion):
        remove(7, WHY)
    assert (ticket.photos.count(), ticket.condition_notes.count()) == (1, 1)


class TestThePage:
    @pytest.mark.parametrize("what", ["mark", "photo"])
    def test_a_press_a_second_press_and_wrong_ones(
        self, client: Client, ticket: Ticket, photo: Photo, mark: ConditionNote, mechanic: User, what: str
    ) -> None:
        pk = {"mark": mark.pk, "photo": photo.pk}[what]
        address = reverse(f"counter:take_{what}_off", args=[ticket.number, pk])
        page = client.get(reverse("counter:put_right", args=[ticket.number])).content.decode()
        assert address in page
        empty = client.post(address, {"seen_version": 1})
        assert (empty.status_code, "Say why; the history keeps it." in empty.content.decode()) == (422, True)
        late = client.post(address, {"seen_version": 9, f"{what}{pk}-reason": WHY})
        assert (late.status_code, WHY in late.content.decode()) == (409, True)
        assert (ticket.photos.count(), ticket.condition_notes.count()) == (1, 1)
        for _ in range(2):
            assert client.post(address, {"seen_version": 1, f"{what}{pk}-reason": WHY}).status_code == 302
        assert ticket.events.filter(kind=f"{what}_removed").count() == 1
        other = TicketFactory(shop=ticket.shop, number=90_001)
        elsewhere = reverse(f"counter:take_{what}_off", args=[other.number, pk])
        assert client.post(elsewhere, {"seen_version": 1, f"{what}{pk}-reason": WHY}).status_code == 404

    def test_it_asks_as_often_however_much_there_is(
        self, client: Client, ticket: Ticket, photo: Photo, mark: ConditionNote, mechanic: User
    ) -> None:
        address = reverse("counter:put_right", args=[ticket.number])
        with CaptureQueriesContext(connection) as few:
            client.get(address)
        PhotoFactory.create_batch(4, ticket=ticket)
        ConditionNoteFactory.create_batch(4, ticket=ticket)
        with CaptureQueriesContext(connection) as many:
            client.get(address)
        assert len(many) == len(few)
