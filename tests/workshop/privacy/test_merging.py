"""Two records of one person become one: what goes where, and that nothing is lost."""

from __future__ import annotations

import uuid
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.db.models import ForeignObjectRel
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from tests.at_once import at_once
from tests.factories import (
    BikeFactory,
    CustomerFactory,
    DocumentFactory,
    SuspensionUnitFactory,
    TicketFactory,
    UserFactory,
)
from tests.logbook import logged
from tests.squeezed import squeezed
from workshop.counter.search import find_customers
from workshop.customers.editing import edit_customer
from workshop.kept.models import LastVisit
from workshop.links.links import make_link, open_link
from workshop.models import Bike, Customer, Document, Message, SuspensionUnit, Ticket, User
from workshop.privacy.erasing import erase_customer
from workshop.privacy.export import gather_person
from workshop.privacy.merging import merge_customers, plan_merge
from workshop.reminders.opt_out import customer_of, stop_token
from workshop.web.folding import digits, fold
from workshop.web.versions import StaleVersion

pytestmark = pytest.mark.django_db
WHY = "Same address, same voice"
# Each record that points at a customer, and whether it goes over to the one that is kept.
GOES_OVER = {
    "Bike.customer": True, "SuspensionUnit.customer": True, "Ticket.customer": True, "Message.customer": True,
    "StoodUnder.customer": True, "Receipt.customer": True, "Customer.merged_into": True,
    "LastVisit.customer": False,  # kept by the database's triggers, of each record
    "ErasureAhead.customer": False,  # found anew each day
    "RecordLook.customer": False,  # shown with those of the record that is kept
    "Erasure.customer": False,  # who was erased is merged with nobody
}  # fmt: skip


def person(shop: Any, name: str, phone: str, **fields: Any) -> Customer:
    made: Customer = CustomerFactory(shop=shop, name=name, phone=phone, **{"email": "", **fields})
    made.search_text = fold(made.name, made.email, digits(made.phone))
    made.save()
    return made


@pytest.fixture
def kept() -> Customer:
    shop = UserFactory(owner=True).shop
    return person(shop, "Ottilie Varnholm", "0777 100 200", notes="Rings twice")


@pytest.fixture
def other(kept: Customer) -> Customer:
    """The same person booked in anew: another number, an address, a fork on a bike with an open ticket."""
    made = person(kept.shop, "O. Varnholm", "0888 300 400", email="otti@example.org", address="7 Weir Row")
    bike = BikeFactory(customer=made)
    unit = SuspensionUnitFactory(shop=kept.shop, customer=made, serial="TWIN-1")
    TicketFactory(shop=kept.shop, customer=made, unit=unit, bike=bike)
    return made


@pytest.fixture
def owner(client: Client, kept: Customer) -> User:
    made = User.objects.get(shop=kept.shop)
    client.force_login(made)
    return made


def merge(kept: Customer, other: Customer, **given: Any) -> Customer:
    fresh = [Customer.with_merged.select_related("shop").get(pk=one.pk) for one in (kept, other)]
    asked: dict[str, Any] = {"by": None, "reason": WHY, **given}
    versions = {"seen_kept": fresh[0].version, "seen_merged": fresh[1].version}
    return merge_customers(kept=fresh[0], merged=fresh[1], **{**versions, **asked})


def message(customer: Customer, **fields: Any) -> Message:
    unit = SuspensionUnitFactory(shop=customer.shop, customer=customer)
    return Message.objects.create(
        shop=customer.shop, customer=customer, unit=unit, channel="email", subject="Due", body="Due",
        due_on=timezone.localdate(), message_id=uuid.uuid4().hex, queued_at=timezone.now(), **fields,
    )  # fmt: skip


def test_every_record_that_points_at_a_customer_was_thought_of() -> None:
    pointing = {
        f"{relation.field.model.__name__}.{relation.field.name}"
        for relation in Customer._meta.get_fields(include_hidden=True)
        if isinstance(relation, ForeignObjectRel)
    }
    assert pointing == set(GOES_OVER), "Say in workshop/privacy/merging.py what becomes of it, and here."


def test_everything_goes_over_and_each_ticket_says_so(kept: Customer, other: Customer, owner: User) -> None:
    ticket = Ticket.objects.get(customer=other)
    mine = TicketFactory(shop=kept.shop, customer=kept, unit__customer=kept, number=90_001)
    paper = DocumentFactory(ticket=ticket, data={"customer": {"name": "O. Varnholm"}})
    letter = message(other)
    merge(kept, other, by=owner)
    for model in (Bike, SuspensionUnit, Ticket, Message):
        assert not model._default_manager.filter(customer=other).exists(), model
    assert set(Ticket.objects.open().filter(customer=kept)) == {ticket, mine}, "open tickets of both go on"
    assert Message.objects.get(pk=letter.pk).customer == kept
    assert logged(ticket)[0] == f"Two records of the customer became one: {WHY}"
    assert (ticket.events.latest("pk").by, logged(mine)) == (owner, [])
    assert Document.objects.get(pk=paper.pk).data == {"customer": {"name": "O. Varnholm"}}, "no paper is altered"
    assert LastVisit.objects.get(customer=kept).at >= Ticket.objects.get(pk=ticket.pk).state_since
    gone = Customer.with_merged.get(pk=other.pk)
    assert (gone.merged_into, gone.merged_by, gone.merged_because) == (kept, owner, WHY)
    assert (gone.name, gone.phone) == ("O. Varnholm", "0888 300 400"), "it stays as it was written"
    assert not Customer.objects.filter(pk=other.pk).exists()


def test_details_fill_what_is_empty_and_what_differs_is_kept_in_words(kept: Customer, other: Customer) -> None:
    merge(kept, other)
    stored = Customer.objects.get(pk=kept.pk)
    assert (stored.name, stored.phone) == ("Ottilie Varnholm", "0777 100 200")
    assert (stored.email, stored.address) == ("otti@example.org", "7 Weir Row")
    assert stored.phones == ["0777 100 200", "0888 300 400"]
    assert stored.notes.splitlines() == ["Rings twice", "From the record merged into this one:", "O. Varnholm"]


def test_what_differs_of_a_company_is_kept_in_words_and_no_number_twice(kept: Customer, other: Customer) -> None:
    Customer.objects.filter(pk=kept.pk).update(contact_person="Ana", other_phones="0888-300400")
    Customer.objects.filter(pk=other.pk).update(contact_person="Ilan", language="French", other_phones="0999 5 home")
    merge(kept, other)
    stored = Customer.objects.get(pk=kept.pk)
    assert (stored.contact_person, stored.language) == ("Ana", "French")
    assert stored.phones == ["0777 100 200", "0888-300400", "0999 5 home"]
    assert "Contact person: Ilan" in stored.notes


def test_they_are_found_by_either_number_also_after_an_edit(kept: Customer, other: Customer) -> None:
    merge(kept, other)
    now = Customer.objects.get(pk=kept.pk)
    for _ in range(2):
        for typed in ("0777 100 200", "0888 300", "varnholm"):
            assert list(find_customers(kept.shop, typed)) == [now], typed
        now = edit_customer(
            customer=Customer.objects.get(pk=kept.pk), seen_version=Customer.objects.get(pk=kept.pk).version,
            name="Ottilie Varnholm", phone="0777 100 200", email="", address="", preferred_contact="phone",
            agreed_to_reminders=False, rider_mass_kg=None, notes="",
        )  # fmt: skip


@pytest.mark.parametrize("ours", [True, False])
@pytest.mark.parametrize("theirs", [True, False])
def test_a_stop_wins_over_a_consent(kept: Customer, other: Customer, ours: bool, theirs: bool) -> None:
    for one, agreed in ((kept, ours), (other, theirs)):
        Customer.objects.filter(pk=one.pk).update(
            agreed_to_reminders=agreed, agreed_to_reminders_at=timezone.now() if agreed else None
        )
    waiting = message(other)
    merged = merge(kept, other)
    stored = Customer.objects.get(pk=kept.pk)
    assert stored.agreed_to_reminders is (ours and theirs) is merged.agreed_to_reminders
    assert bool(stored.agreed_to_reminders_at) is (ours and theirs)
    assert Message.objects.get(pk=waiting.pk).state == ("queued" if ours and theirs else "called_off")


def test_old_addresses_and_links_lead_to_the_one_that_is_kept(
    client: Client, kept: Customer, other: Customer, owner: User
) -> None:
    token = stop_token(other)
    _, secret = make_link(ticket=Ticket.objects.get(customer=other), by=None)
    third = person(kept.shop, "Ottilie V.", "0999 1")
    merge(kept, other)
    assert customer_of(token) == kept
    assert open_link(secret).ticket.customer == kept
    response = client.get(reverse("counter:customer", args=[other.pk]))
    assert (response.status_code, response["Location"]) == (302, reverse("counter:customer", args=[kept.pk]))
    page = squeezed(client.get(reverse("counter:customer", args=[kept.pk])).content.decode())
    assert "O. Varnholm, 0888 300 400" in page
    assert WHY in page
    merge(third, kept)
    assert customer_of(token) == third, "merged on, it still leads to a record that stands"
    assert list(find_customers(kept.shop, "0888 300")) == [third]


class TestRefused:
    def test_without_a_reason_with_itself_and_with_another_shop_s(self, kept: Customer, other: Customer) -> None:
        for one, reason in ((other, " "), (kept, WHY), (CustomerFactory(), WHY)):
            with pytest.raises(ValidationError):
                merge(kept, one, reason=reason)
        assert Customer.objects.filter(pk__in=[kept.pk, other.pk], version=1).count() == 2

    def test_with_somebody_who_was_erased(self, kept: Customer, other: Customer) -> None:
        Ticket.objects.update(state="called_off")
        erase_customer(customer=other, by=None)
        with pytest.raises(ValidationError, match="erased"):
            merge(kept, other)

    def test_past_a_change_and_a_second_time(self, kept: Customer, other: Customer) -> None:
        for stale in ({"seen_kept": 8}, {"seen_merged": 8}):
            with pytest.raises(StaleVersion):
                merge(kept, other, **stale)
        merge(kept, other)
        with pytest.raises(StaleVersion):
            merge(kept, other)
        with pytest.raises(StaleVersion):
            merge(other, kept)


@pytest.mark.django_db(transaction=True)
def test_both_ways_at_once_one_is_kept(kept: Customer, other: Customer) -> None:
    pairs = [(kept, other), (other, kept)]

    def one(number: int) -> str:
        keep, gone = (Customer.with_merged.select_related("shop").get(pk=who.pk) for who in pairs[number])
        try:
            merge_customers(kept=keep, merged=gone, by=None, seen_kept=1, seen_merged=1, reason=WHY)
        except StaleVersion:
            return "too late"
        return "merged"

    assert sorted(at_once(one, 2)) == ["merged", "too late"]
    assert Customer.objects.filter(pk__in=[kept.pk, other.pk]).count() == 1


def test_erasing_and_exporting_take_both_records(kept: Customer, other: Customer) -> None:
    ticket = Ticket.objects.get(customer=other)
    merge(kept, other, reason="Varnholm it is")
    Ticket.objects.filter(pk=ticket.pk).update(complaint_words="x", notes="Ring 0888 300 400", state="called_off")
    assert gather_person(kept)["merged_records"][0]["phone"] == "0888 300 400"
    erase_customer(customer=Customer.objects.get(pk=kept.pk), by=None)
    left = str([*Customer.with_merged.values(), *Ticket.objects.values(), *logged(ticket),
                *ticket.events.values_list("changes", flat=True)])  # fmt: skip
    for word in ("Varnholm", "0888", "0777", "otti", "Weir"):
        assert word.casefold() not in left.casefold(), word


class TestThePage:
    def test_a_dry_run_writes_nothing_and_says_what_goes_where(
        self, client: Client, kept: Customer, other: Customer, owner: User
    ) -> None:
        SuspensionUnitFactory(shop=kept.shop, customer=kept, serial="TWIN-1")
        number = Ticket.objects.get(customer=other).number
        address = reverse("office:merge_customer", args=[kept.pk])
        assert address in client.get(reverse("counter:customer", args=[kept.pk])).content.decode()
        assert f"?with={other.pk}" in client.get(address, {"q": "0888"}).content.decode()
        page = squeezed(client.get(address, {"with": other.pk}).content.decode())
        for words in ("is taken over", "stays; the other is a further number", f"ticket {number}", "serial TWIN-1"):
            assert words in page
        assert (plan_merge(kept=kept, merged=other).counts["Tickets"], Customer.objects.filter(
            pk__in=[kept.pk, other.pk]).count()) == (1, 2)  # fmt: skip
        sent = {"with": other.pk, "seen_version": 1, "seen_merged_version": 1}
        refused = client.post(address, sent)
        assert (refused.status_code, "Say why; the history keeps it." in refused.content.decode()) == (422, True)
        late = client.post(address, {**sent, "seen_version": 4, "reason": WHY})
        assert (late.status_code, WHY in late.content.decode()) == (409, True)
        for _ in range(2):
            assert client.post(address, {**sent, "reason": WHY}).status_code == 302
        assert Ticket.objects.get(number=number).events.filter(kind="customers_merged").count() == 1
        assert client.get(reverse("office:merge_customer", args=[other.pk])).status_code == 302

    def test_it_asks_as_often_however_much_there_is(
        self, client: Client, kept: Customer, other: Customer, owner: User
    ) -> None:
        addresses: list[tuple[str, dict[str, Any]]] = [
            (reverse("office:merge_customer", args=[kept.pk]), {"with": other.pk, "q": "varnholm"}),
            (reverse("counter:customer", args=[kept.pk]), {}),
        ]
        merge(kept, person(kept.shop, "O. V.", "0111 222 333"))

        def count() -> list[int]:
            counts = []
            for address, sent in addresses:
                with CaptureQueriesContext(connection) as asked:
                    client.get(address, sent)
                counts.append(len(asked))
            return counts

        count()  # whatever a process asks once
        few = count()
        for n in range(4):
            unit = SuspensionUnitFactory(shop=kept.shop, customer=other, serial=f"MORE-{n}")
            TicketFactory(shop=kept.shop, customer=other, unit=unit, number=90_010 + n)
            merge(kept, person(kept.shop, "O. V.", f"0111 222 44{n}"))
        assert count() == few


def test_whom_to_ask_for_and_every_number_stay(kept: Customer, other: Customer) -> None:
    Customer.objects.filter(pk=kept.pk).update(other_phones="work 0777 200 300")
    Customer.objects.filter(pk=other.pk).update(
        other_phones="home 0777200300\nshop 0888 999 111", contact_person="Odile", language="French"
    )
    kept, other = Customer.objects.get(pk=kept.pk), Customer.objects.get(pk=other.pk)
    merge(kept, other)
    stored = Customer.objects.get(pk=kept.pk)
    assert stored.other_phones.splitlines() == ["work 0777 200 300", "0888 300 400", "shop 0888 999 111"]
    assert (stored.contact_person, stored.language) == ("Odile", "French")
    assert "Further phones" not in stored.notes
