"""Receipts and credit notes under numbers without a gap, frozen as they were issued."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F
from django.utils import timezone

from workshop.charges.models import FinalCharges
from workshop.charges.sums import NOTHING
from workshop.charges.ticket_charges import charges_block, standing_charges
from workshop.customers.language import speaking_to
from workshop.staff.countries import tax_number_name
from workshop.staff.models import Shop, User
from workshop.tickets.booking import hold_numbers
from workshop.tickets.logbook import log
from workshop.tickets.models import Ticket
from workshop.till.models import (
    HandOver,
    HandOverTakenBack,
    Payment,
    Receipt,
    ReceiptSeries,
    ReceiptSettings,
    ReceiptTicket,
)
from workshop.web.number_words import plain_money, shop_money

MOST_TICKETS = 20


@transaction.atomic
def issue_receipt(*, hand_overs: Sequence[HandOver], by: User | None) -> Receipt:
    """One receipt for what was handed over to one customer, under the shop's next number of this year.

    Issued again for the same it is the receipt there is.

    Raises:
        ValidationError: nothing to issue, several customers or currencies, taken back, or on another receipt.
    """
    shop = hold_shop(hand_overs)
    listed = list(
        HandOver.objects.filter(pk__in=[one.pk for one in hand_overs])
        .select_related("ticket__shop", "ticket__customer", "ticket__unit__model", "ticket__bike")
        .order_by("ticket__number")
    )
    covered = list(ReceiptTicket.objects.filter(hand_over__in=listed, kind=Receipt.Kind.RECEIPT))
    if len(covered) == len(listed) and len({share.receipt_id for share in covered}) == 1:
        return covered[0].receipt
    _check_together(listed, covered)
    finals = {final.ticket_id: final for final in FinalCharges.objects.filter(ticket__in=[o.ticket for o in listed])}
    first = finals[listed[0].ticket_id]
    receipt = numbered(
        shop,
        Receipt.Kind.RECEIPT,
        customer=listed[0].ticket.customer,
        currency=first.currency,
        tax_name=first.tax_name,
        tax_rows=_tax_rows([finals[one.ticket_id].tax_rows for one in listed]),
        by=by,
    )
    with speaking_to(receipt.customer):
        tickets = [_ticket_block(one.ticket) for one in listed]
        receipt.data = {**head_of(receipt), "tickets": tickets, "payments": _payments(listed, shop)}
    save_numbered(receipt)
    for one in listed:
        ReceiptTicket.objects.create(
            receipt=receipt, ticket=one.ticket, hand_over=one, kind=receipt.kind, gross=finals[one.ticket_id].gross
        )
        log(ticket=one.ticket, by=by, kind="receipt_issued", values={"number": receipt.number_words})
    return receipt


def may_go_together(ticket: Ticket) -> list[HandOver]:
    """What else this customer was handed over and has no receipt of, the newest first; one query."""
    return list(
        HandOver.objects.filter(ticket__customer=ticket.customer_id, taken_back=None, receipt_shares=None, gross__gt=0)
        .exclude(ticket=ticket)
        .select_related("ticket__unit__model")
        .order_by("-pk")[: MOST_TICKETS - 1]
    )


def next_number(shop: Shop, kind: str, year: int) -> int:
    """The next number of a series. The shop's row must be held: whoever comes at once waits, and what fails gives
    its number back.
    """
    series, _ = ReceiptSeries.objects.get_or_create(shop=shop, kind=kind, year=year)
    ReceiptSeries.objects.filter(pk=series.pk).update(last=F("last") + 1)
    return ReceiptSeries.objects.values_list("last", flat=True).get(pk=series.pk)


def hold_shop(hand_overs: Sequence[HandOver]) -> Shop:
    """Hold the shop's row, under which numbers are given. Raises ValidationError for none."""
    if not hand_overs:
        raise ValidationError("Choose what the receipt is for.")
    shop = hand_overs[0].ticket.shop
    hold_numbers(shop)
    return shop


def _check_together(hand_overs: Sequence[HandOver], covered: Sequence[ReceiptTicket]) -> None:
    if covered:
        raise ValidationError("There is a receipt for one of these already. Look at it first.")
    if len({(one.ticket.customer_id, one.currency) for one in hand_overs}) != 1:
        raise ValidationError("A receipt is for one customer and in one currency.")
    if len(hand_overs) > MOST_TICKETS:
        raise ValidationError(f"A receipt takes no more than {MOST_TICKETS} tickets.")
    if HandOverTakenBack.objects.filter(hand_over__in=hand_overs).exists():
        raise ValidationError("One of these was opened again meanwhile.")


def numbered(shop: Shop, kind: str, **fields: Any) -> Receipt:
    """A receipt under its number, not saved, with the sums of its tax rows."""
    now = timezone.now()
    year = timezone.localtime(now).year
    rows: list[Mapping[str, str]] = fields["tax_rows"]
    sums = {name: sum((Decimal(row[name]) for row in rows), NOTHING) for name in ("net", "tax", "gross")}
    return Receipt(shop=shop, kind=kind, year=year, number=next_number(shop, kind, year), at=now, **sums, **fields)


def save_numbered(receipt: Receipt) -> None:
    """Judged and saved."""
    receipt.full_clean(exclude=["shop", "customer", "corrects", "by", "tax_rows"], validate_constraints=False)
    receipt.save()


def head_of(receipt: Receipt) -> dict[str, Any]:
    """What every receipt and credit note prints: number, shop, customer, tax and sums."""
    shop = receipt.shop
    said = ReceiptSettings.objects.filter(shop=shop).first() or ReceiptSettings(shop=shop)
    currency = receipt.currency
    return {
        "number": receipt.number_words,
        "kind": str(receipt.kind),
        "on": timezone.localtime(receipt.at).date().isoformat(),
        "shop": {
            "name": shop.name,
            "address": shop.address,
            "phone": shop.phone,
            "email": shop.email,
            "is_demo": shop.is_demo,
            "currency": currency,
            "tax_number": said.tax_number,
            "tax_number_name": tax_number_name(shop.country),
            "registration_number": said.registration_number,
            "foot": said.foot,
        },
        "customer": {"name": receipt.customer.name, "address": receipt.customer.address},
        "tax_rows": [
            {
                "label": f"{receipt.tax_name} {Decimal(row['percent']).normalize():f} %",
                **{name: shop_money(Decimal(row[name]), shop, currency) for name in ("net", "tax", "gross")},
            }
            for row in receipt.tax_rows
        ],
        "net": shop_money(receipt.net, shop, currency),
        "tax": shop_money(receipt.tax, shop, currency),
        "gross": shop_money(receipt.gross, shop, currency),
    }


def _ticket_block(ticket: Ticket) -> dict[str, Any]:
    charges, rules = standing_charges(ticket)
    return {
        "number": ticket.number,
        "unit": ticket.unit.title,
        "serial": ticket.unit.serial,
        "charges": charges_block(charges, rules, ticket.shop),
    }


def _payments(hand_overs: Sequence[HandOver], shop: Shop) -> list[dict[str, str]]:
    """What was paid up to now, and what was left open, as the receipt prints it."""
    rows = Payment.objects.filter(ticket__in=[one.ticket_id for one in hand_overs])
    known = [one.pk for one in hand_overs]
    return [
        {
            "how": str(Payment.Kind(row.kind).label),
            "on": timezone.localtime(row.at).date().isoformat(),
            "amount": shop_money(row.amount, shop, row.currency),
            "plain": plain_money(row.amount),
        }
        for row in rows
        if row.kind != Payment.Kind.ACCOUNT or row.hand_over_id in known
    ]


def _tax_rows(of_tickets: Sequence[Sequence[Mapping[str, str]]]) -> list[dict[str, str]]:
    """The tax rows of several tickets, those of one rate added up."""
    by_rate: dict[Decimal, dict[str, Decimal]] = {}
    for row in (row for rows in of_tickets for row in rows):
        sums = by_rate.setdefault(Decimal(row["percent"]), dict.fromkeys(("net", "tax", "gross"), NOTHING))
        for name in sums:
            sums[name] += Decimal(row[name])
    return [
        {"percent": str(percent), **{name: str(amount) for name, amount in sums.items()}}
        for percent, sums in sorted(by_rate.items())
    ]
