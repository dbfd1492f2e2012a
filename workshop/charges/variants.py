"""Offering several ways of doing a job on one estimate: writing them down, and what each comes to."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from specs.models import Part
from workshop.charges.labour import hold_open_for_labour
from workshop.charges.models import LONGEST_MINUTES, LabourLine, TaxRules
from workshop.charges.sums import NOTHING, Charges, to_cents
from workshop.charges.ticket_charges import charges_block, charges_of_all
from workshop.charges.variant_models import Variant, VariantLine
from workshop.staff.models import Shop, User
from workshop.tickets.models import PartLine, Ticket

MOST = 4


@transaction.atomic
def offer(*, ticket: Ticket, name: str, by: User | None) -> Variant:
    """Another way of doing it. Raises ValidationError without a name, with one that is there, or with too many."""
    hold_open_for_labour(ticket)
    name = name.strip()
    there = list(ticket.variants.filter(dropped=False))
    if not name:
        raise ValidationError({"name": "Give it a name, such as “Repair” or “Replace”."})
    if any(one.name.casefold() == name.casefold() for one in there):
        raise ValidationError({"name": f"“{name}” is offered already."})
    if any(one.taken for one in there):
        raise ValidationError({"name": "The customer took one of them. Add to the ticket’s charges instead."})
    if len(there) >= MOST:
        raise ValidationError({"name": f"No more than {MOST} ways are offered at once."})
    variant = Variant(ticket=ticket, name=name, by=by, at=timezone.now())
    variant.full_clean(exclude=["ticket", "by"])
    variant.save()
    return variant


@transaction.atomic
def offer_work(*, variant: Variant, words: str, minutes: int | None, price: Decimal | None) -> VariantLine:
    """Work in a variant: minutes at the shop's rate of today, or a price of its own.

    Raises ValidationError: neither or both, without words, below zero, or it is taken.
    """
    _hold(variant)
    if not words.strip():
        raise ValidationError({"words": "Say what the work is."})
    if (minutes is None) == (price is None):
        raise ValidationError({"price": "Enter the minutes, or a price."})
    if minutes is not None and not 0 < minutes <= LONGEST_MINUTES:
        raise ValidationError({"minutes": f"Enter minutes from 1 to {LONGEST_MINUTES:,}."})
    rate = Shop.objects.values_list("labour_rate_hour", flat=True).get(pk=variant.ticket.shop_id)
    each = rate if price is None else price
    return _add(VariantLine(variant=variant, words=words.strip(), minutes=minutes, price=each))


@transaction.atomic
def offer_part(*, variant: Variant, part: Part, quantity: Decimal, price: Decimal | None) -> VariantLine:
    """A part in a variant, at a price each; None where nobody knows it yet. Raises ValidationError."""
    _hold(variant)
    if quantity <= 0:
        raise ValidationError({"quantity": "Enter a quantity above zero."})
    return _add(VariantLine(variant=variant, part=part, quantity=quantity, price=price))


@transaction.atomic
def drop_variant(*, variant: Variant) -> None:
    """Not offered after all. Dropped twice is dropped once; ValidationError where the customer took it."""
    _hold(variant)
    Variant.objects.filter(pk=variant.pk).update(dropped=True)


@transaction.atomic
def drop_variant_line(*, line: VariantLine) -> None:
    """It asks no longer for that. ValidationError where the customer took it."""
    _hold(line.variant)
    VariantLine.objects.filter(pk=line.pk).update(dropped=True)


def offered_on(ticket: Ticket) -> list[Variant]:
    """What the customer may choose from, with `offered`, the lines; none once one is taken. Two queries."""
    variants = list(ticket.variants.filter(dropped=False))
    if any(one.taken for one in variants):
        return []
    by_variant: dict[int, list[VariantLine]] = {one.pk: [] for one in variants}
    for line in VariantLine.objects.filter(variant__in=variants, dropped=False).select_related("part").order_by("pk"):
        by_variant[line.variant_id].append(line)
    for one in variants:
        one.offered = by_variant[one.pk]  # type: ignore[attr-defined]
    return variants


def with_variant(ticket: Ticket, rules: TaxRules, lines: Iterable[VariantLine]) -> Charges:
    """What the ticket would come to with the lines of a variant, under tax rules; three queries."""
    listed = list(lines)
    labour = [labour_of(ticket, line) for line in listed if line.part is None]
    parts = [part_line_of(ticket, line) for line in listed if line.part is not None]
    return charges_of_all(ticket, rules, labour, parts)


def variants_block(ticket: Ticket, rules: TaxRules) -> list[dict[str, Any]]:
    """Each way as plain JSON for the estimate.

    Its key, its name, the keys of its lines, and its charges with all that is on the ticket already.
    """
    return [
        {
            "key": str(one.pk),
            "name": one.name,
            "offers": [line.pk for line in one.offered],  # type: ignore[attr-defined]  # offered_on marks it
            "charges": charges_block(
                with_variant(ticket, rules, one.offered),  # type: ignore[attr-defined]
                rules,
                ticket.shop,
            ),
        }
        for one in offered_on(ticket)
    ]


def labour_of(ticket: Ticket, line: VariantLine) -> LabourLine:
    """The labour that a line of work becomes, not saved, at the price at which it is offered."""
    rate = to_cents(line.price) if line.minutes is not None and line.price is not None else None
    amount = NOTHING if line.amount is None else line.amount  # work has a price, which the database holds
    return LabourLine(ticket=ticket, words=line.words, minutes=line.minutes, rate_hour=rate, price=amount)


def part_line_of(ticket: Ticket, line: VariantLine) -> PartLine:
    """The part that a line becomes, not saved, at the price at which it is offered."""
    return PartLine(
        ticket=ticket, part=line.part, quantity=line.quantity, unit_price=line.price, source=PartLine.Source.BY_HAND
    )


def _add(line: VariantLine) -> VariantLine:
    line.full_clean(exclude=["variant", "part"], validate_constraints=False)
    line.save()
    return line


def _hold(variant: Variant) -> None:
    hold_open_for_labour(variant.ticket)
    if not Variant.objects.filter(pk=variant.pk, taken=False, dropped=False).exists():
        raise ValidationError("The customer took this, or it is not offered any more. Look at the ticket again.")
