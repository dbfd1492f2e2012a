"""What labour costs in the demo shop, its tax, and the hours of its bench. All invented."""

from __future__ import annotations

from decimal import Decimal

from workshop.charges.models import TaxRules
from workshop.charges.prices import set_tax_rules
from workshop.promise.capacity import set_capacity
from workshop.staff.models import Shop

_PRICES = {
    ("fork", "lowers"): Decimal("65.00"),
    ("fork", "spring"): Decimal("85.00"),
    ("fork", "full"): Decimal("140.00"),
    ("shock", "spring"): Decimal("55.00"),
    ("shock", "full"): Decimal("130.00"),
}


def make_prices(shop: Shop) -> None:
    """A price for each service, and one rate of tax on top."""
    set_tax_rules(
        shop=shop,
        seen_version=0,
        name="VAT",
        labour_percent=Decimal(20),
        parts_percent=Decimal(20),
        prices_include_tax=False,
        rounding=TaxRules.Rounding.SUM,
        prices=_PRICES,
    )


def make_hours(shop: Shop) -> None:
    """Two mechanics, six hours each, and the weekend off."""
    set_capacity(
        shop=shop,
        seen_version=0,
        mechanics=2,
        hours_a_day=Decimal(6),
        closed_weekdays=[5, 6],
        usual_minutes=90,
        unknown_lead_days=7,
    )
