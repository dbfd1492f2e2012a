"""Erasing by itself whom the shop has not seen for as long as it keeps people, where its owner said so.

A clock that jumps ahead must erase nobody. So a person is announced first, and erased only where they were found due on
twenty different days and thirty after the first: whoever is not due the next day is announced no more, and thirty days
of a wrong clock are seen by somebody. At most fifty go a day, the longest not seen first.
"""

from __future__ import annotations

import datetime as dt

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F, QuerySet

from workshop.customers.models import Customer
from workshop.customers.privacy_models import NOTICE, ErasureAhead
from workshop.privacy.erasing import erase_customer, proposed_for_erasure, retention_of
from workshop.staff.models import Shop
from workshop.staff.security_log import Did, WhereFrom, note

FOUND_ON_DAYS = 20
MOST_A_DAY = 50


def erase_whom_nobody_saw(shop: Shop, today: dt.date) -> int:
    """Announce who is due today, and erase who was announced long enough ago; how many. Once a day, or more often."""
    policy = retention_of(shop)
    _announce(shop, today, by_itself=policy.by_itself)
    erased = 0
    for ahead in to_be_erased(shop).filter(since__lte=today - NOTICE, days__gte=FOUND_ON_DAYS):
        if erased == MOST_A_DAY:
            break
        erased += _erase(ahead.customer, policy.years)
    return erased


def to_be_erased(shop: Shop) -> QuerySet[ErasureAhead]:
    """Who is announced and not held, the longest announced first."""
    found = ErasureAhead.objects.filter(customer__shop=shop, held=False).select_related("customer__shop")
    return found.order_by("since", "customer__last_visit__at", "customer_id")


def hold(customer: Customer, *, held: bool) -> bool:
    """Keep somebody announced all the same, or take that back; whether they are announced."""
    return ErasureAhead.objects.filter(customer=customer).update(held=held) > 0


def _announce(shop: Shop, today: dt.date, *, by_itself: bool) -> None:
    due = proposed_for_erasure(shop, today) if by_itself else Customer.objects.none()
    ahead = ErasureAhead.objects.filter(customer__shop=shop)
    ahead.exclude(customer__in=due.order_by().values("pk")).delete()
    ahead.filter(since__gt=today).delete()  # announced while the clock was ahead
    ahead.filter(last_on__gt=today).update(last_on=today)
    ahead.filter(last_on__lt=today).update(last_on=today, days=F("days") + 1)
    new = [ErasureAhead(customer=customer, since=today, last_on=today) for customer in due.filter(erasure_ahead=None)]
    ErasureAhead.objects.bulk_create(new, ignore_conflicts=True)  # another machine may be at it, too


def _erase(customer: Customer, years: int | None) -> bool:
    """Whether they are erased; not where money of theirs is open, or they came back a moment ago."""
    try:
        with transaction.atomic():
            note(shop=customer.shop, did=Did.ERASED_BY_ITSELF, by=None, place=WhereFrom(), customer=customer.pk)
            erase_customer(customer=customer, by=None, reason=f"Not seen for {years} years")
    except ValidationError:
        return False
    return True
