"""Saying from which day a tax rate holds, and taking that back as long as the day is to come."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from workshop.charges.models import TaxRate, TaxRules
from workshop.staff.models import Shop, User
from workshop.web.plausible_days import DayKind, refuse_day
from workshop.web.versions import take_version


@transaction.atomic
def set_tax_rate(
    *,
    shop: Shop,
    seen_version: int,
    from_on: dt.date,
    labour_percent: Decimal,
    parts_percent: Decimal,
    by: User | None,
) -> TaxRate:
    """Rates that hold from a day to come. The same day again is the newer rate of it.

    Raises:
        StaleVersion: somebody changed the shop's tax meanwhile.
        ValidationError: a day that is not to come or too far away, or a rate outside 0 to 100 %.
    """
    _take(shop, seen_version)
    refuse_day("from_on", from_on, DayKind.PUT_OFF)
    rate = TaxRate.objects.filter(shop=shop, from_on=from_on).first() or TaxRate(shop=shop, from_on=from_on)
    rate.labour_percent, rate.parts_percent = labour_percent, parts_percent
    rate.by, rate.at = by, timezone.now()
    rate.full_clean(exclude=["shop", "by"])
    rate.save()
    return rate


@transaction.atomic
def take_back_tax_rate(*, rate: TaxRate, seen_version: int) -> None:
    """It does not change on that day after all. Raises StaleVersion, or ValidationError once the day has come."""
    _take(rate.shop, seen_version)
    if rate.from_on <= timezone.localdate():
        raise ValidationError("This rate holds already; what was charged by it stands. Set the next one instead.")
    TaxRate.objects.filter(pk=rate.pk).delete()


def _take(shop: Shop, seen_version: int) -> None:
    Shop.objects.select_for_update().only("pk").get(pk=shop.pk)
    rules, _ = TaxRules.objects.get_or_create(shop=shop, defaults={"version": 0})
    take_version(rules, seen_version)
