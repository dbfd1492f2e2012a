"""What the owner sets for receipts: the shop's numbers, a line at the foot, and the logo."""

from __future__ import annotations

from django.db import transaction

from workshop.staff.models import Shop
from workshop.till.models import ReceiptSettings
from workshop.web.versions import take_version


def receipt_settings_of(shop: Shop) -> ReceiptSettings:
    """The shop's; empty, not saved, where it has none yet."""
    return ReceiptSettings.objects.filter(shop=shop).first() or ReceiptSettings(shop=shop, version=0)


@transaction.atomic
def set_receipt_settings(
    *,
    shop: Shop,
    seen_version: int,
    tax_number: str,
    registration_number: str,
    foot: str,
    logo: str | None = None,
    without_logo: bool = False,
) -> ReceiptSettings:
    """Replace them; receipts that are issued stay as they are.

    Args:
        logo: a new one, as `workshop.till.logo.logo_of` made it; None keeps the one there is.

    Raises:
        StaleVersion: somebody changed them meanwhile.
        ValidationError: something is too long.
    """
    Shop.objects.select_for_update().only("pk").get(pk=shop.pk)
    said, _ = ReceiptSettings.objects.get_or_create(shop=shop, defaults={"version": 0})
    take_version(said, seen_version)
    said.tax_number, said.registration_number, said.foot = tax_number.strip(), registration_number.strip(), foot.strip()
    if logo is not None or without_logo:
        said.logo = "" if without_logo else logo or ""
    said.full_clean(exclude=["shop"])
    said.save()
    return said
