"""What labour costs in the demo shop, and its tax. All invented."""

from __future__ import annotations

from decimal import Decimal

from workshop.charges.models import TaxRules
from workshop.charges.prices import set_tax_rules
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
