"""What the owner sets: the price of each service, and how tax is reckoned."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

from django.db import transaction
from django.db.models import F
from django.utils import timezone

from workshop.charges.models import ServicePrice, TaxRate, TaxRules
from workshop.charges.tax import tax_rules_of
from workshop.staff.countries import usual_tax_name
from workshop.staff.models import Shop, User
from workshop.web.versions import take_version


@transaction.atomic
def set_tax_rules(
    *,
    shop: Shop,
    seen_version: int,
    name: str,
    labour_percent: Decimal,
    parts_percent: Decimal,
    prices_include_tax: bool,
    rounding: str,
    prices: Mapping[tuple[str, str], Decimal | None],
    by: User | None = None,
) -> TaxRules:
    """Replace the shop's tax rules and service prices; what was charged or agreed before stays as it was.

    The first rates hold for ever back; others are written down as holding from today, so that those before are known.

    Args:
        prices: of kind and level; None takes the service off the list.

    Raises:
        StaleVersion: somebody changed them meanwhile.
        ValidationError: a rate outside 0 to 100 %, a negative price.
    """
    Shop.objects.select_for_update().only("pk").get(pk=shop.pk)
    rules, _ = TaxRules.objects.get_or_create(shop=shop, defaults={"version": 0})
    is_first = rules.version == 0
    take_version(rules, seen_version)
    rules.name, rules.rounding, rules.prices_include_tax = name.strip(), rounding, prices_include_tax
    before = rules.labour_percent, rules.parts_percent
    rules.labour_percent, rules.parts_percent = labour_percent, parts_percent
    rules.full_clean(exclude=["shop"])
    if not is_first:
        rules.labour_percent, rules.parts_percent = before
        _from_today(shop, labour_percent, parts_percent, by)
    rules.save()
    for (kind, level), amount in prices.items():
        stored = ServicePrice.objects.filter(shop=shop, kind=kind, level=level).first()
        if amount is None:
            if stored is not None:
                stored.delete()
            continue
        price = stored or ServicePrice(shop=shop, kind=kind, level=level)
        price.price = amount
        price.full_clean(exclude=["shop"])
        price.save()
    return rules


def _from_today(shop: Shop, labour_percent: Decimal, parts_percent: Decimal, by: User | None) -> None:
    """Write down other rates than today's as those that hold from today."""
    now = tax_rules_of(shop)
    if (now.labour_percent, now.parts_percent) != (labour_percent, parts_percent):
        TaxRate.objects.update_or_create(
            shop=shop,
            from_on=timezone.localdate(),
            defaults={
                "labour_percent": labour_percent, "parts_percent": parts_percent, "by": by, "at": timezone.now(),
            },
        )  # fmt: skip


def service_prices(shop: Shop) -> dict[tuple[str, str], Decimal]:
    """The shop's prices by kind and level."""
    return {(row.kind, row.level): row.price for row in ServicePrice.objects.filter(shop=shop)}


def tax_name_follows(*, shop: Shop, country_before: str) -> str:
    """Call the tax as the shop's country does, where it is called as in the country before; the new name, or "".

    A shop that has no tax rules yet is offered the name in the form. What was agreed or charged keeps its own.
    """
    before, now = usual_tax_name(country_before), usual_tax_name(shop.country)
    if before == now:
        return ""
    called_so = TaxRules.objects.filter(shop=shop, name=before)
    return now if called_so.update(name=now, version=F("version") + 1) else ""
