"""Two records of one person become one: first said what goes where, then done, with nothing lost.

Bikes, forks and shocks, tickets, receipts and letters of the one go to the other. The record that is merged stays as
it was written, out of every list; its page and the links that stop reminders lead to the one that is kept. Documents
stay as they were printed, and links to a ticket stay good. A yes to reminders counts only where both records have it:
a stop wins over a consent, and a no that was never asked cannot be told from a stop.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.core.exceptions import ValidationError
from django.db import models, transaction
from django.db.models import F
from django.utils import timezone

from specs.units import show
from workshop.customers.models import Bike, Customer
from workshop.customers.privacy_models import Erasure
from workshop.customers.search_text import customer_search_text
from workshop.reminders.models import Message
from workshop.reminders.opt_out import stop_reminders
from workshop.staff.models import User
from workshop.suspension.models import SuspensionUnit
from workshop.tickets.booking import hold_numbers
from workshop.tickets.models import StoodUnder, Ticket, TicketEvent
from workshop.till.models import Receipt
from workshop.web.folding import digits
from workshop.web.versions import take_version

LONGEST_REASON = 200
# What a customer's record says, each with its label; of an empty one the other's is taken.
DETAILS: Mapping[str, str] = {
    "contact_person": "Contact person",
    "phone": "Phone",
    "other_phones": "Further phones",
    "email": "Email",
    "address": "Address",
    "language": "Language",
    "rider_mass_kg": "Rider’s weight",
    "notes": "Notes",
}

_PHONES = ("phone", "other_phones")


@dataclass(frozen=True)
class Detail:
    """A detail of both records in words, and what becomes of it."""

    label: str
    kept: str
    merged: str
    becomes: str


@dataclass(frozen=True)
class MergePlan:
    """What a merge would do: the details, what goes over, what is open, and which serials both have."""

    details: Sequence[Detail]
    counts: Mapping[str, int]
    open_numbers: Sequence[int]
    twins: Sequence[str]
    reminders: str


def plan_merge(*, kept: Customer, merged: Customer) -> MergePlan:
    """What goes where, in a fixed number of queries; nothing is written."""
    serials = [set(_units(one).exclude(serial="").values_list("serial", flat=True)) for one in (kept, merged)]
    tickets = Ticket.objects.filter(customer=merged)
    return MergePlan(
        details=[_detail(kept, merged, name, label) for name, label in {"name": "Name", **DETAILS}.items()],
        counts={
            "Tickets": tickets.count(),
            "Forks and shocks": _units(merged).count(),
            "Bikes": merged.bikes.count(),
            "Receipts": Receipt.objects.filter(customer=merged).count(),
            "Letters and emails": Message.objects.filter(customer=merged).count(),
        },
        open_numbers=list(tickets.open().order_by("number").values_list("number", flat=True)),
        twins=sorted(serials[0] & serials[1]),
        reminders=_reminders(kept, merged),
    )


@transaction.atomic
def merge_customers(
    *, kept: Customer, merged: Customer, by: User | None, seen_kept: int, seen_merged: int, reason: str
) -> Customer:
    """Make one of two records of a person; see the module for what goes where.

    Raises:
        ValidationError: no reason, the same record twice, another shop's, or somebody who was erased.
        StaleVersion: somebody changed one of the two, or merged it, after the page was opened.
    """
    if kept.pk == merged.pk or kept.shop_id != merged.shop_id:
        raise ValidationError("Choose another record of this shop.")
    hold_numbers(kept.shop)  # nobody books for either meanwhile
    # In the order of their keys, so that two who merge them both ways at once wait for each other.
    for one, seen in sorted(((kept, seen_kept), (merged, seen_merged)), key=lambda pair: pair[0].pk):
        take_version(one, seen)
    if not reason.strip():
        raise ValidationError({"reason": "Say why they are one person."})
    if Erasure.objects.filter(customer__in=[kept, merged]).exists():
        raise ValidationError("A person who was erased cannot be merged with anybody.")
    agreed = kept.agreed_to_reminders and merged.agreed_to_reminders
    _log(kept, merged, by, reason)
    _move(kept, merged)
    _keep_apart(kept, merged, by, reason)
    _take_details(kept, merged)
    if not agreed:
        stop_reminders(customer=kept)
        kept.refresh_from_db()
    return kept


def _move(kept: Customer, merged: Customer) -> None:
    Bike.objects.filter(customer=merged).update(customer=kept, version=F("version") + 1)
    _units(merged).update(customer=kept, version=F("version") + 1)
    Ticket.objects.filter(customer=merged).update(customer=kept)
    Message.objects.filter(customer=merged).update(customer=kept)
    StoodUnder.objects.filter(customer=merged).update(customer=kept)
    Receipt.objects.filter(customer=merged).update(customer=kept)
    Customer.with_merged.filter(merged_into=merged).update(merged_into=kept)


def _keep_apart(kept: Customer, merged: Customer, by: User | None, reason: str) -> None:
    merged.merged_into, merged.merged_at, merged.merged_by = kept, timezone.now(), by
    merged.merged_because = reason.strip()[:LONGEST_REASON]
    Customer.with_merged.filter(pk=merged.pk).update(
        merged_into=kept, merged_at=merged.merged_at, merged_by=by, merged_because=merged.merged_because, search_text=""
    )


def _take_details(kept: Customer, merged: Customer) -> None:
    """Empty details are taken over; where both say something, the other's is kept in the notes, in words."""
    also = [f"{merged.name}"] if merged.name != kept.name else []
    for name, label in DETAILS.items():
        ours, theirs = getattr(kept, name), getattr(merged, name)
        if name in _PHONES or theirs in (None, "") or theirs == ours:
            continue
        if ours in (None, ""):
            setattr(kept, name, theirs)
        elif name != "notes":
            also.append(f"{label}: {_words(merged, name)}")
        else:
            also.append(theirs)
    _take_phones(kept, merged)
    kept.papers_language = kept.papers_language or merged.papers_language
    if also:
        kept.notes = "\n".join([*([kept.notes] if kept.notes else []), "From the record merged into this one:", *also])
    kept.search_text = customer_search_text(kept)
    kept.full_clean(exclude=["shop", "created_by", "search_text"])
    kept.save()


def _take_phones(kept: Customer, merged: Customer) -> None:
    """Every number of both: the first stays the first, the other's are further ones."""
    if not kept.phone:
        kept.phone = merged.phone
    known = {digits(phone) for phone in kept.phones}
    further = [phone for phone in merged.phones if digits(phone) not in known]
    kept.other_phones = "\n".join([*kept.other_phones.splitlines(), *further])


def _log(kept: Customer, merged: Customer, by: User | None, reason: str) -> None:
    """A line in the logbook of each ticket that goes over, before it does."""
    now, said = timezone.now(), {"reason": reason.strip()[:LONGEST_REASON]}
    changes = {"customer": [merged.name, kept.name]}
    TicketEvent.objects.bulk_create(
        [
            TicketEvent(ticket_id=pk, by=by, at=now, kind="customers_merged", values=said, changes=changes)
            for pk in Ticket.objects.filter(customer=merged).values_list("pk", flat=True)
        ],
        batch_size=500,
    )


def _units(customer: Customer) -> models.QuerySet[SuspensionUnit]:
    return SuspensionUnit.objects.filter(customer=customer)


def _detail(kept: Customer, merged: Customer, name: str, label: str) -> Detail:
    ours, theirs = getattr(kept, name), getattr(merged, name)
    if theirs in (None, "") or theirs == ours:
        becomes = "stays"
    elif ours in (None, ""):
        becomes = "is taken over"
    elif name in _PHONES:
        becomes = "stays; the other is a further number"
    else:
        becomes = "stays; the other goes into the notes"
    return Detail(label, _words(kept, name), _words(merged, name), becomes)


def _words(customer: Customer, name: str) -> str:
    value = getattr(customer, name)
    if name == "rider_mass_kg" and value is not None:
        return show(value, "mass", customer.shop.unit_for("mass"))
    return str(value or "")


def _reminders(kept: Customer, merged: Customer) -> str:
    if kept.agreed_to_reminders and merged.agreed_to_reminders:
        return "Both records agreed to reminders, and so it stays."
    if kept.agreed_to_reminders or merged.agreed_to_reminders:
        return (
            "Only one of the two records agreed to reminders. There are none from now on; ask whether they want them."
        )
    return "Neither record agreed to reminders, and so it stays."
