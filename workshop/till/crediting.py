"""Credit notes: of what a hand-over is still charged, all of it or a part. A receipt is never edited."""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from workshop.charges.models import FinalCharges
from workshop.charges.sums import NOTHING, TaxRow, to_cents
from workshop.staff.models import Shop, User
from workshop.tickets.logbook import log
from workshop.till.models import HandOver, HandOverTakenBack, Receipt, ReceiptTicket
from workshop.till.receipts import head_of, hold_shop, numbered, save_numbered
from workshop.till.standing import money_of
from workshop.till.taking import MONEY_KINDS, PaidPart, write_payment
from workshop.web.number_words import shop_money


@dataclass(frozen=True)
class CreditLine:
    """A charged line of a receipt, its amount with tax, and whether a credit note took it back already."""

    place: int
    title: str
    percent: Decimal
    gross: Decimal
    credited: bool


@dataclass(frozen=True)
class Creditable:
    """What a hand-over's share of its receipt has left to credit: its lines, and the sums by tax rate."""

    lines: Sequence[CreditLine]
    left: Mapping[Decimal, TaxRow]

    @property
    def gross(self) -> Decimal:
        return sum((row.gross for row in self.left.values()), NOTHING)


def creditable(hand_over: HandOver) -> Creditable:
    """Of a hand-over with frozen charges; two queries."""
    final = FinalCharges.objects.get(ticket=hand_over.ticket_id)
    notes = _notes_of(hand_over)
    taken = {place for note in notes for place in note.data.get("of_lines", ())}
    lines = [
        CreditLine(place, line["title"], Decimal(line["tax_percent"]), _with_tax(line, final), place in taken)
        for place, line in enumerate(final.lines)
        if line["amount"] and Decimal(line["amount"]) > 0
    ]
    return Creditable(lines, _left(final.tax_rows, notes))


@transaction.atomic
def credit(*, hand_over: HandOver, reason: str, by: User | None) -> Receipt | None:
    """A credit note for all that is left of a hand-over's share of its receipt; None where it has no receipt.

    Where nothing is left it is the last credit note.

    Raises:
        ValidationError: without a reason.
    """
    hold_shop([hand_over])
    share = _share_of(hand_over)
    if share is None:
        return None
    left, notes = creditable(hand_over), _notes_of(hand_over)
    if notes and not left.gross:
        return notes[-1]
    return _note(share, list(left.left.values()), reason, by, in_part=bool(notes))


@transaction.atomic
def credit_part(
    *,
    hand_over: HandOver,
    lines: Sequence[int] = (),
    amount: Decimal | None = None,
    reason: str,
    back_by: str = "",
    client_id: uuid.UUID,
    by: User | None,
) -> Receipt:
    """Credit some lines of a receipt, or an amount of it with its tax; what was paid above the rest goes back.

    Sent again it is the credit note that was issued.

    Args:
        lines: places in the frozen charges, as `creditable` has them.
        amount: with tax, instead of lines; shared over the tax rates as they are left.
        back_by: how the money goes back, where more was paid than is left to pay.

    Raises:
        ValidationError: neither or both, nothing or more than is left, a line that was credited, no receipt, opened
            again meanwhile, no reason, or no word on how money goes back.
    """
    shop = hold_shop([hand_over])
    if (made := Receipt.objects.filter(shop=shop, client_id=client_id).first()) is not None:
        return made
    share = _share_of(hand_over)
    if share is None or HandOverTakenBack.objects.filter(hand_over=hand_over).exists():
        raise ValidationError("There is no receipt that stands, so there is nothing to credit.")
    now = creditable(hand_over)
    if bool(lines) == (amount is not None):
        raise ValidationError({"amount": "Choose lines, or enter an amount: one of the two."})
    rows = _of_lines(now, lines) if amount is None else _of_amount(now, amount, shop)
    credited = sum((row.gross for row in rows), NOTHING)
    chosen = [one.title for one in now.lines if one.place in lines]
    note = _note(share, rows, reason, by, in_part=True, of_lines=list(lines), titles=chosen, client_id=client_id)
    back = money_of(hand_over.ticket) - (now.gross - credited)
    if back > 0:
        if back_by not in dict(MONEY_KINDS):
            raise ValidationError({"back_by": f"Say how {shop_money(back, shop)} is paid back."})
        write_payment(
            ticket=hand_over.ticket,
            part=PaidPart(back_by, -back),
            client_id=client_id,
            hand_over=hand_over,
            by=by,
            reason=reason,
        )
    return note


def _share_of(hand_over: HandOver) -> ReceiptTicket | None:
    shares = ReceiptTicket.objects.filter(hand_over=hand_over, kind=Receipt.Kind.RECEIPT)
    return shares.select_related("receipt__shop", "receipt__customer", "ticket").first()


def _notes_of(hand_over: HandOver) -> list[Receipt]:
    return list(Receipt.objects.filter(covers__hand_over=hand_over, kind=Receipt.Kind.CREDIT).order_by("pk"))


def _left(charged: Iterable[Mapping[str, str]], notes: Iterable[Receipt]) -> dict[Decimal, TaxRow]:
    """What is charged less what is credited, by rate."""
    left: dict[Decimal, TaxRow] = {}
    for row in [*charged, *(row for note in notes for row in note.tax_rows)]:
        percent, net, tax, gross = (Decimal(row[name]) for name in ("percent", "net", "tax", "gross"))
        was = left.get(percent, TaxRow(percent, NOTHING, NOTHING, NOTHING))
        left[percent] = TaxRow(percent, was.net + net, was.tax + tax, was.gross + gross)
    return left


def _with_tax(line: Mapping[str, str], final: FinalCharges) -> Decimal:
    amount, percent = Decimal(line["amount"]), Decimal(line["tax_percent"])
    return amount if final.prices_include_tax else amount + to_cents(amount * percent / 100)


def _of_lines(now: Creditable, places: Sequence[int]) -> list[TaxRow]:
    """The tax rows of chosen lines; tax is rounded on the sum of a rate, so the last lines of it take what is left."""
    known = {one.place: one for one in now.lines}
    if any(place not in known for place in places):
        raise ValidationError({"lines": "Choose among the lines of the receipt."})
    if again := [known[place].title for place in places if known[place].credited]:
        raise ValidationError({"lines": f"Credited already: {', '.join(again)}."})
    rows = []
    for percent in sorted({known[place].percent for place in places}):
        of_rate = [one for one in now.lines if one.percent == percent and not one.credited]
        chosen = [one for one in of_rate if one.place in places]
        wanted = sum((one.gross for one in chosen), NOTHING)
        left = now.left[percent]
        cents = Decimal("0.01") * len(of_rate)  # by so much can lines rounded one by one differ from their sum
        if wanted > left.gross + cents:
            raise ValidationError({"lines": "This is more than is left of it to credit, after what was taken off."})
        rows.append(_row(left, min(wanted, left.gross) if chosen != of_rate else min(left.gross, wanted + cents)))
    return rows


def _of_amount(now: Creditable, amount: Decimal, shop: Shop) -> list[TaxRow]:
    if amount <= 0:
        raise ValidationError({"amount": "Enter an amount above zero."})
    if amount > now.gross:
        raise ValidationError({"amount": f"No more than {shop_money(now.gross, shop)} is left to credit."})
    rows, rest, rest_left = [], amount, now.gross
    for _, left in sorted(now.left.items()):
        piece = min(left.gross, to_cents(rest * left.gross / rest_left)) if rest_left else NOTHING
        rest, rest_left = rest - piece, rest_left - left.gross
        if piece:
            rows.append(_row(left, piece))
    return rows


def _row(left: TaxRow, gross: Decimal) -> TaxRow:
    """So much with tax of what is left of a rate, the tax taken out of it."""
    if gross == left.gross:
        return left
    tax = to_cents(gross * left.percent / (100 + left.percent))
    return TaxRow(left.percent, gross - tax, tax, gross)


def _note(
    share: ReceiptTicket,
    rows: Sequence[TaxRow],
    reason: str,
    by: User | None,
    *,
    in_part: bool,
    of_lines: Sequence[int] = (),
    titles: Sequence[str] = (),
    client_id: uuid.UUID | None = None,
) -> Receipt:
    if not reason.strip():
        raise ValidationError({"reason": "Say why; the credit note prints it."})
    receipt, ticket = share.receipt, share.ticket
    note = numbered(
        receipt.shop,
        Receipt.Kind.CREDIT,
        customer=receipt.customer,
        currency=receipt.currency,
        tax_name=receipt.tax_name,
        tax_rows=[_below_zero(row) for row in rows],
        by=by,
        client_id=client_id,
    )
    note.corrects, note.reason = receipt, reason.strip()
    note.data = {**head_of(note), **_said(note, ticket.number, in_part=in_part), "of_lines": list(of_lines)}
    note.data["line_titles"] = list(titles)
    save_numbered(note)
    ReceiptTicket.objects.create(
        receipt=note, ticket=ticket, hand_over_id=share.hand_over_id, kind=note.kind, gross=note.gross
    )
    log(ticket=ticket, by=by, kind="credit_issued", values={"number": note.number_words})
    return note


def _said(note: Receipt, number: int, *, in_part: bool) -> dict[str, Any]:
    receipt = note.corrects
    if receipt is None:
        raise ValueError("A credit note corrects a receipt.")
    return {
        "corrects": receipt.number_words,
        "corrects_on": timezone.localtime(receipt.at).date().isoformat(),
        "reason": note.reason,
        "in_part": shop_money(-note.gross, note.shop, note.currency) if in_part else "",
        "tickets": [next(one for one in receipt.data["tickets"] if one["number"] == number)],
        "payments": [],
    }


def _below_zero(row: TaxRow) -> dict[str, str]:
    sums = {name: str(NOTHING - getattr(row, name)) for name in ("net", "tax", "gross")}
    return {"percent": str(row.percent), **sums}
