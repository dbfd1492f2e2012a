"""What was paid for a ticket, and what is still open or held."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Exists, OuterRef, Q, QuerySet

from workshop.charges.sums import NOTHING
from workshop.customers.models import Customer
from workshop.staff.models import Shop
from workshop.tickets.models import Ticket
from workshop.till.models import HandOver, HandOverTakenBack, Payment, Receipt, ReceiptTicket

ACCOUNT = Payment.Kind.ACCOUNT


@dataclass(frozen=True)
class Paid:
    """The payments of a ticket, the sum they are held against, and the papers that say so.

    `recorded` is False for a ticket that was handed back before payments were kept: whether it was paid is not known.
    """

    payments: Sequence[Payment]
    gross: Decimal
    currency: str
    hand_over: HandOver | None
    receipts: Sequence[Receipt]
    recorded: bool

    @property
    def credited(self) -> Decimal:
        """What credit notes took off the hand-over that counts."""
        counts = self.hand_over.pk if self.hand_over is not None else None
        shares = (share for one in self.credit_notes for share in one.covers.all())
        return NOTHING - sum((share.gross for share in shares if share.hand_over_id == counts), NOTHING)

    @property
    def money(self) -> Decimal:
        return money_in(self.payments)

    @property
    def due(self) -> Decimal:
        """Still to be paid; below zero, to be paid back."""
        return self.gross - self.credited - self.money

    @property
    def back(self) -> Decimal:
        """To be paid back, above zero; else nothing."""
        return max(-self.due, NOTHING)

    @property
    def receipt(self) -> Receipt | None:
        """The receipt of the hand-over that counts."""
        return next((one for one in self.receipts if one.kind == Receipt.Kind.RECEIPT and self._covers(one)), None)

    @property
    def credit_notes(self) -> list[Receipt]:
        return [one for one in self.receipts if one.kind == Receipt.Kind.CREDIT]

    @property
    def may_be_undone(self) -> bool:
        """Nothing was paid with the hand-over or after it, and no receipt went out."""
        taken = self.hand_over and any(
            one.kind != ACCOUNT and one.hand_over_id == self.hand_over.pk for one in self.payments
        )
        return self.hand_over is not None and not taken and self.receipt is None

    def _covers(self, receipt: Receipt) -> bool:
        shares = receipt.covers.all()
        return self.hand_over is not None and any(one.hand_over_id == self.hand_over.pk for one in shares)


def money_in(payments: Iterable[Payment]) -> Decimal:
    """What was paid less what was paid back; what went on account is no money."""
    return sum((one.amount for one in payments if one.kind != ACCOUNT), NOTHING)


def money_of(ticket: Ticket) -> Decimal:
    """The money that the shop has had for a ticket; one query."""
    return sum(Payment.objects.filter(ticket=ticket).exclude(kind=ACCOUNT).values_list("amount", flat=True), NOTHING)


def standing_hand_over(ticket: Ticket) -> HandOver | None:
    """The hand-over that counts: the newest, unless it was taken back."""
    return HandOver.objects.filter(ticket=ticket, taken_back=None).last()


def credited_by_hand_over(hand_overs: Iterable[HandOver]) -> dict[int, Decimal]:
    """What credit notes took off hand-overs, above zero, by key; one query."""
    rows = ReceiptTicket.objects.filter(hand_over__in=list(hand_overs), kind=Receipt.Kind.CREDIT)
    credited: dict[int, Decimal] = {}
    for hand_over, gross in rows.values_list("hand_over", "gross"):
        credited[hand_over] = credited.get(hand_over, NOTHING) - gross
    return credited


def paid_for(ticket: Ticket, gross: Decimal) -> Paid:
    """Of a ticket and what it comes to with tax; four queries."""
    payments = list(Payment.objects.filter(ticket=ticket).select_related("by"))
    receipts = Receipt.objects.filter(covers__ticket=ticket).distinct().defer("data").prefetch_related("covers")
    hand_over = standing_hand_over(ticket)
    handed_back = ticket.state == Ticket.State.HANDED_BACK
    recorded = not handed_back or hand_over is not None
    return Paid(payments, gross, ticket.shop.currency, hand_over, list(receipts)[::-1], recorded)


@dataclass(frozen=True)
class OpenSum:
    """A ticket with a sum that is open, or money that is held, above zero."""

    ticket: Ticket
    amount: Decimal
    currency: str
    hand_over: HandOver | None = None


def open_sums(shop: Shop, customer: Customer | None = None) -> list[OpenSum]:
    """What was handed over and is not paid yet, of all or one customer, the oldest first; four queries."""
    doubtful = Payment.objects.filter(hand_over=OuterRef("pk")).filter(Q(kind=ACCOUNT) | Q(amount__lt=0))
    standing = (
        HandOver.objects.filter(Exists(doubtful), ticket__shop=shop, taken_back=None)
        .select_related("ticket__customer", "ticket__unit__model", "ticket__bike")
        .order_by("at", "pk")
    )
    if customer is not None:
        standing = standing.filter(ticket__customer=customer)
    listed = list(standing)
    money = money_by_ticket(Payment.objects.filter(ticket__in=[row.ticket_id for row in listed]))
    credited = credited_by_hand_over(listed)
    sums = (
        OpenSum(
            row.ticket,
            row.gross - credited.get(row.pk, NOTHING) - money.get(row.ticket_id, NOTHING),
            row.currency,
            row,
        )
        for row in listed
    )
    return [one for one in sums if one.amount]


def money_held(shop: Shop) -> list[OpenSum]:
    """What was paid for tickets that are not handed over yet, the oldest ticket first; two queries."""
    tickets = Ticket.objects.filter(
        Exists(Payment.objects.filter(ticket=OuterRef("pk"))), ~Q(state=Ticket.State.HANDED_BACK), shop=shop
    )
    listed = list(tickets.select_related("customer", "unit__model", "bike").order_by("number"))
    money = money_by_ticket(Payment.objects.filter(ticket__in=listed))
    return [OpenSum(one, money[one.pk], shop.currency) for one in listed if money.get(one.pk)]


def has_open_money(shop: Shop) -> bool:
    """Whether a sum is open or held, in the currency of now."""
    return bool(open_sums(shop) or money_held(shop))


def taken_back_with_reason(ticket: Ticket) -> QuerySet[HandOverTakenBack]:
    """Why the ticket was opened again, the newest first."""
    return HandOverTakenBack.objects.filter(hand_over__ticket=ticket).select_related("by").order_by("-pk")


def money_by_ticket(payments: QuerySet[Payment]) -> dict[int, Decimal]:
    """What was paid less what was paid back, by the ticket’s key; one query."""
    money: dict[int, Decimal] = {}
    for ticket, amount in payments.exclude(kind=ACCOUNT).values_list("ticket", "amount"):
        money[ticket] = money.get(ticket, NOTHING) + amount
    return money
