"""Erasing a person while the workshop keeps its technical record.

What goes: name, phone, email, address, notes, rider's weight, frame numbers and notes of bikes, notes of units, the
complaint in the customer's own words and other words agreed at the counter, reasons of moves, every issued PDF (each
prints the name), rows of sheets that were brought in, letters and emails, links, and on request the photos.

What stays, without the person: tickets with their booked complaints, dates, states, settings, findings, ticks,
readings, parts and prices; unit models and serial numbers; ride hours and services. In whatever text stays, the
person's name, phone, email and address are replaced (`every_word.py`). An issued PDF is not made
anew: its row keeps revision, digest and data without the person, and says that it was erased. Backups made earlier
still hold the person until they are thrown away; the screen says so.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from functools import reduce

from django.core.exceptions import ValidationError
from django.core.files.storage import default_storage
from django.db import transaction
from django.db.models import Exists, F, OuterRef, Q, QuerySet
from django.utils import timezone

from diagnosis.models import Tick, ToldOtherwise
from specs.models import MendedValue
from workshop.charges.models import Agreement, Discount
from workshop.customers.models import Bike, Customer
from workshop.customers.privacy_models import Erasure, ErasureAhead, RetentionPolicy
from workshop.customers.search_text import bike_search_text, customer_search_text
from workshop.intervals.forecast import add_months
from workshop.issued.models import Document
from workshop.links.models import CustomerLink
from workshop.privacy.event_erasure import erase_in_event
from workshop.privacy.every_word import scrub_every_word
from workshop.privacy.scrubbing import ERASED, scrub_data, scrubber
from workshop.privacy.sheet_erasure import erase_in_sheets
from workshop.reminders.models import Message
from workshop.staff.models import Shop, User
from workshop.stock.old_part_models import OldPart
from workshop.suspension.models import SuspensionUnit
from workshop.suspension.search_text import unit_search_text
from workshop.suspension.unit_fields import PERSONAL
from workshop.tickets.models import (
    ConditionNote,
    Contact,
    FindingAnswer,
    FreeFinding,
    PartLine,
    Photo,
    SettingsRecord,
    StateMove,
    StoodUnder,
    Ticket,
    TicketEvent,
    Visit,
)
from workshop.tickets.search_text import ticket_search_text
from workshop.till.models import HandOverTakenBack, Payment, Receipt
from workshop.till.standing import money_held, open_sums
from workshop.web.days import start_of
from workshop.web.storage import StoreAway
from workshop.web.versions import take_version

Scrub = Callable[[str], str]
NAME = "Erased"


def proposed_for_erasure(shop: Shop, today: dt.date) -> QuerySet[Customer]:
    """Customers whose last visit is longer ago than the shop keeps people, the longest first; none without a policy."""
    policy = RetentionPolicy.objects.filter(shop=shop).first()
    if policy is None or policy.years is None:
        return Customer.objects.none()
    before = start_of(add_months(today, -12 * policy.years))
    here = Ticket.objects.open().filter(customer=OuterRef("pk"))
    return (
        Customer.objects.filter(last_visit__shop=shop, last_visit__at__lt=before)  # the erased have none
        .exclude(Exists(here))
        .select_related("last_visit", "erasure_ahead")
        .order_by("last_visit__at", "last_visit__customer_id")
    )


def retention_of(shop: Shop) -> RetentionPolicy:
    """The shop's policy; one without a limit, not saved, where there is none."""
    return RetentionPolicy.objects.filter(shop=shop).first() or RetentionPolicy(shop=shop, version=0)


@transaction.atomic
def edit_retention(*, shop: Shop, seen_version: int, years: int | None, by_itself: bool = False) -> RetentionPolicy:
    """Set after how many years people are proposed for erasure, or erased. Raises StaleVersion or ValidationError."""
    policy, _ = RetentionPolicy.objects.get_or_create(shop=shop, defaults={"version": 0})
    take_version(policy, seen_version)
    policy.years, policy.by_itself = years, by_itself
    policy.full_clean(exclude=["shop"])
    policy.save()
    return policy


def why_not_erasable(customer: Customer) -> str:
    """Why a customer cannot be erased now, in words; empty where they can."""
    if Erasure.objects.filter(customer=customer).exists():
        return "This person is erased already."
    if Ticket.objects.open().filter(customer=customer).exists():
        return "A fork or shock of theirs is still in the shop. Hand it back or call the ticket off first."
    money = [*open_sums(customer.shop), *money_held(customer.shop)]
    if any(one.ticket.customer_id == customer.pk for one in money):
        return "A sum of theirs is open, or money of theirs is held. Settle that first."
    return ""


@transaction.atomic
def erase_customer(*, customer: Customer, by: User | None, reason: str = "", with_photos: bool = False) -> Erasure:
    """Erase a person; see the module for what goes and what stays. Files go once the transaction is through.

    Raises:
        ValidationError: a unit of theirs is in the shop, or they are erased already.
    """
    customer = Customer.objects.select_for_update().get(pk=customer.pk)
    if problem := why_not_erasable(customer):
        raise ValidationError(problem)
    merged = list(Customer.with_merged.filter(merged_into=customer))
    scrub = _scrub_all([customer, *merged])
    tickets = Ticket.objects.filter(customer=customer)
    files = _erase_documents(Document.objects.filter(ticket__in=tickets), scrub) + _erase_where_they_stood(
        customer, scrub
    )
    documents = len(files)
    photos = _erase_photos(tickets) if with_photos else []
    _scrub_tickets(tickets, scrub)
    _erase_belongings(customer)
    _erase_messages(customer)
    for one in (*merged, customer):
        erase_in_sheets(one)
    CustomerLink.objects.filter(ticket__in=tickets).delete()
    scrub_every_word(customer, scrub)
    for one in (*merged, customer):  # who is found by the merged as well comes after them
        _erase_person(one)
    _search_anew(customer)
    ErasureAhead.objects.filter(customer=customer).delete()
    erasure = Erasure.objects.create(
        customer=customer,
        at=timezone.now(),
        by=by,
        reason=scrub(reason.strip())[:160],
        documents_removed=documents,
        photos_removed=len(photos),
        files_to_remove=[*files, *(name for pair in photos for name in pair)],
    )
    transaction.on_commit(finish_erasures)
    return erasure


def finish_erasures() -> int:
    """Remove the files that erasures left to remove. Run again after a crash, or once a store that does not answer
    does so again, it goes on where it stopped; System says that something is left.
    """
    removed = 0
    for erasure in Erasure.objects.exclude(files_to_remove=[]):
        for name in erasure.files_to_remove:
            # Two photos with the same picture share a file; it stays while anybody else's row names it.
            if not Photo.with_removed.filter(Q(file=name) | Q(thumbnail=name)).exists():
                try:
                    default_storage.delete(name)
                except StoreAway:
                    return removed
                removed += 1
        Erasure.objects.filter(pk=erasure.pk).update(files_to_remove=[])
    return removed


def _scrub_all(customers: Sequence[Customer]) -> Scrub:
    """What takes every record of a person out of a text."""
    scrubs = [
        scrubber(name=one.name, email=one.email, address=one.address, also=one.contact_person, phones=one.phones)
        for one in customers
    ]
    return lambda text: reduce(lambda so_far, scrub: scrub(so_far), scrubs, text)


def _erase_person(customer: Customer) -> None:
    customer.name, customer.phone, customer.email, customer.address, customer.notes = NAME, "", "", "", ""
    customer.contact_person, customer.other_phones, customer.language = "", "", ""
    customer.preferred_contact, customer.papers_language = Customer.Contact.PHONE, ""
    customer.agreed_to_reminders, customer.agreed_to_reminders_at, customer.rider_mass_kg = False, None, None
    customer.merged_because = ""
    customer.search_text = customer_search_text(customer)
    customer.version += 1
    customer.save()
    MendedValue.objects.filter(table=customer._meta.label_lower, row=customer.pk).delete()


def _erase_belongings(customer: Customer) -> None:
    for bike in Bike.objects.filter(customer=customer):
        bike.frame_number, bike.notes = "", ""
        bike.search_text = bike_search_text(bike)
        bike.version += 1
        bike.save()
    emptied = {field.name: "" for field in PERSONAL}
    SuspensionUnit.objects.filter(customer=customer).update(**emptied, version=F("version") + 1)


def _search_anew(customer: Customer) -> None:
    """What is searched of bikes, units and tickets, of their words as they are now."""
    for bike in Bike.objects.filter(customer=customer):
        Bike.objects.filter(pk=bike.pk).update(search_text=bike_search_text(bike))
    for unit in SuspensionUnit.objects.filter(customer=customer).select_related("model"):
        SuspensionUnit.objects.filter(pk=unit.pk).update(search_text=unit_search_text(unit))
    for ticket in Ticket.objects.filter(customer=customer).select_related("customer", "unit__model", "bike"):
        Ticket.objects.filter(pk=ticket.pk).update(search_text=ticket_search_text(ticket))


def _erase_messages(customer: Customer) -> None:
    messages = Message.objects.filter(customer=customer)
    messages.filter(state__in=[Message.State.QUEUED, Message.State.FAILED]).update(state=Message.State.CALLED_OFF)
    messages.update(to_address="", subject=NAME, body="", stop_url="", calendar="", problem="")


def _erase_where_they_stood(customer: Customer, scrub: Scrub) -> list[str]:
    """Of tickets that stood under the person by mistake: their name in the logbook, and the papers of then."""
    names: list[str] = []
    for stood in StoodUnder.objects.filter(customer=customer):
        of_then = Document.objects.filter(ticket=stood.ticket_id, issued_at__lte=stood.until)
        names += _erase_documents(of_then, scrub)
        for event in TicketEvent.objects.filter(ticket=stood.ticket_id):
            if event.kind == "put_right":
                erase_in_event(event, scrub)
            else:
                event.values, event.text = scrub_data(event.values, scrub), scrub(event.text)
            event.save(update_fields=["kind", "values", "text", "changes"])
    return names


def _erase_documents(documents: QuerySet[Document], scrub: Scrub) -> list[str]:
    """Names of the PDFs to remove; the rows stay, without the person."""
    names = []
    for document in documents:
        names.append(str(document.pdf.name))
        document.data = {**scrub_data(document.data, scrub), "erased": True}
        document.save(update_fields=["data"])
    return names


def _erase_photos(tickets: QuerySet[Ticket]) -> list[tuple[str, str]]:
    photos = Photo.with_removed.filter(ticket__in=tickets)
    names = [(str(photo.file.name), str(photo.thumbnail.name)) for photo in photos]
    photos.delete()
    return names


def _scrub_tickets(tickets: QuerySet[Ticket], scrub: Scrub) -> None:
    for ticket in tickets:
        ticket.complaint_words, ticket.notes = ERASED, ""
        ticket.search_text = ticket_search_text(ticket)
        ticket.version += 1
        ticket.save(update_fields=["complaint_words", "notes", "search_text", "version"])
    StateMove.objects.filter(ticket__in=tickets).exclude(reason="").update(reason="")
    for event in TicketEvent.objects.filter(ticket__in=tickets):
        erase_in_event(event, scrub)
        event.save(update_fields=["kind", "values", "text", "changes"])
    ticks = Tick.objects.filter(run__in=tickets.values("ticket_runs__run"))
    _scrub_column(ticks, "note", scrub)
    _scrub_column(ToldOtherwise.objects.filter(run__in=tickets.values("ticket_runs__run")), "note", scrub)
    _scrub_column(ConditionNote.with_removed.filter(ticket__in=tickets), "text", scrub)
    for column in ("place", "text"):
        _scrub_column(FreeFinding.objects.filter(ticket__in=tickets), column, scrub)
    _scrub_column(FindingAnswer.objects.filter(ticket__in=tickets), "words", scrub)
    _scrub_column(PartLine.objects.filter(ticket__in=tickets), "note", scrub)
    _scrub_column(OldPart.objects.filter(ticket__in=tickets), "note", scrub)
    _scrub_column(Photo.with_removed.filter(ticket__in=tickets), "caption", scrub)
    _scrub_column(SettingsRecord.objects.filter(ticket__in=tickets), "remarks", scrub)
    Visit.objects.filter(tickets__in=tickets).update(
        loose_words="", came_carrier="", came_number="", goes_carrier="", goes_number=""
    )
    Contact.objects.filter(ticket__in=tickets).exclude(words="").update(words=ERASED)
    Agreement.objects.filter(ticket__in=tickets).update(said_by=ERASED, note="")
    _scrub_money(tickets, scrub)


def _scrub_money(tickets: QuerySet[Ticket], scrub: Scrub) -> None:
    """Payments, receipts and their numbers stay for the books, without the person."""
    _scrub_column(Discount.objects.filter(ticket__in=tickets), "reason", scrub)
    _scrub_column(Payment.objects.filter(ticket__in=tickets), "reason", scrub)
    _scrub_column(HandOverTakenBack.objects.filter(hand_over__ticket__in=tickets), "reason", scrub)
    for receipt in Receipt.objects.filter(covers__ticket__in=tickets).distinct():
        receipt.data, receipt.reason = scrub_data(receipt.data, scrub), scrub(receipt.reason)[:200]
        receipt.save(update_fields=["data", "reason"])


def _scrub_column(
    rows: QuerySet[Tick]
    | QuerySet[ToldOtherwise]
    | QuerySet[ConditionNote]
    | QuerySet[FreeFinding]
    | QuerySet[FindingAnswer]
    | QuerySet[PartLine]
    | QuerySet[OldPart]
    | QuerySet[Photo]
    | QuerySet[SettingsRecord]
    | QuerySet[Discount]
    | QuerySet[Payment]
    | QuerySet[HandOverTakenBack],
    column: str,
    scrub: Scrub,
) -> None:
    for row in rows.exclude(**{column: ""}):
        text = getattr(row, column)
        if (clean := scrub(text)) != text:
            longest = getattr(row._meta.get_field(column), "max_length", None)
            setattr(row, column, clean[:longest])
            row.save(update_fields=[column])
