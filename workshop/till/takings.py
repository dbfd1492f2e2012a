"""A day's takings by kind of payment, and the drawer counted against them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from workshop.charges.sums import NOTHING
from workshop.staff.models import Shop, User
from workshop.tickets.booking import hold_numbers
from workshop.till.models import DrawerCount, Payment, Receipt
from workshop.till.standing import ACCOUNT, money_in
from workshop.web.days import end_of, start_of
from workshop.web.number_words import shop_money

Kind = Payment.Kind


class CountedMeanwhile(ValueError):
    """Money came or somebody counted since the page was opened; nothing is kept."""


@dataclass(frozen=True)
class KindOfDay:
    """What came in and went back in one way on a day."""

    label: str
    came: Decimal
    back: Decimal

    @property
    def sum(self) -> Decimal:
        return self.came + self.back


@dataclass(frozen=True)
class Takings:
    """A day: its payments, its receipts, and how often the drawer was counted (the last one counts)."""

    day: dt.date
    payments: Sequence[Payment]
    receipts: Sequence[Receipt]
    counts: Sequence[DrawerCount]
    opening: Decimal
    """What was left in the drawer by the count before, or by this day's."""

    @property
    def kinds(self) -> list[KindOfDay]:
        """Each way of paying, in a fixed order; what went on account is no money and stands apart."""
        rows = []
        for kind in Kind:
            if kind != ACCOUNT:
                amounts = [one.amount for one in self.payments if one.kind == kind]
                came = sum((amount for amount in amounts if amount > 0), NOTHING)
                back = sum((amount for amount in amounts if amount < 0), NOTHING)
                rows.append(KindOfDay(str(kind.label), came, back))
        return rows

    @property
    def money(self) -> Decimal:
        return money_in(self.payments)

    @property
    def on_account(self) -> Decimal:
        return sum((one.amount for one in self.payments if one.kind == ACCOUNT), NOTHING)

    @property
    def cash(self) -> Decimal:
        return sum((one.amount for one in self.payments if one.kind == Kind.CASH), NOTHING)

    @property
    def receipted(self) -> Decimal:
        """The day's receipts less its credit notes."""
        return sum((one.gross for one in self.receipts), NOTHING)

    @property
    def counted(self) -> DrawerCount | None:
        return self.counts[-1] if self.counts else None

    @property
    def since_count(self) -> Decimal:
        """Cash that moved after the drawer was counted."""
        return self.cash - self.counted.cash if self.counted else NOTHING


def takings_of(shop: Shop, day: dt.date) -> Takings:
    """Of one day by the shop's clock; four queries."""
    payments = Payment.objects.filter(shop=shop, at__gte=start_of(day), at__lt=end_of(day))
    receipts = Receipt.objects.filter(shop=shop, at__gte=start_of(day), at__lt=end_of(day))
    counts = list(DrawerCount.objects.filter(shop=shop, day=day).select_related("by"))
    before = DrawerCount.objects.filter(shop=shop, day__lt=day).order_by("day", "revision").last()
    opening = counts[-1].opening if counts else before.stays if before else NOTHING
    return Takings(
        day,
        list(payments.select_related("ticket__customer", "by").order_by("at", "pk")),
        list(receipts.select_related("customer").defer("data").order_by("at", "pk")),
        counts,
        opening,
    )


@transaction.atomic
def count_drawer(
    *,
    shop: Shop,
    day: dt.date,
    opening: Decimal,
    counted: Decimal,
    taken_out: Decimal,
    reason: str,
    seen_cash: Decimal | None,
    seen_count: int,
    by: User | None,
) -> DrawerCount:
    """Close a day: the drawer as it was counted. A day that was counted is counted again as a further one.

    Args:
        seen_cash: the day's cash as the page said; seen_count: how often the day was counted then.

    Raises:
        CountedMeanwhile: money came in or somebody counted since.
        ValidationError: an amount below nothing, more taken out than there is, a difference without a reason, or a
            day that is still to come.
    """
    hold_numbers(shop)
    if day > timezone.localdate():
        raise ValidationError("That day is still to come.")
    now = takings_of(shop, day)
    if now.cash != seen_cash or len(now.counts) != seen_count:
        raise CountedMeanwhile("Cash was booked or the drawer was counted since this page was opened. Look again.")
    problems: dict[str, str] = {}
    for name, amount in (("opening", opening), ("counted", counted), ("taken_out", taken_out)):
        if amount < 0:
            problems[name] = "This cannot be below zero."
    if taken_out > counted:
        problems["taken_out"] = f"There is no more than {shop_money(counted, shop)} in it."
    difference = counted - (opening + now.cash)
    if difference and not reason.strip():
        words = f"{shop_money(abs(difference), shop)} too {'much' if difference > 0 else 'little'}"
        problems["reason"] = f"There is {words} in the drawer. Say why, or count again."
    if problems:
        raise ValidationError(problems)
    count = DrawerCount(
        shop=shop,
        day=day,
        revision=len(now.counts) + 1,
        currency=shop.currency,
        opening=opening,
        cash=now.cash,
        expected=opening + now.cash,
        counted=counted,
        taken_out=taken_out,
        reason=reason.strip(),
        by=by,
        at=timezone.now(),
    )
    count.full_clean(exclude=["shop", "by"], validate_constraints=False)
    count.save()
    return count
