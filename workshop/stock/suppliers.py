"""Suppliers: entered, changed, archived; and what each asks for a part."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from workshop.staff.models import Shop, User
from workshop.stock.models import StockItem
from workshop.stock.order_standing import check_amount
from workshop.stock.purchase_models import PurchaseOrder
from workshop.stock.supplier_models import BasketLine, Supplier, SupplierPart
from workshop.web.versions import take_version

_NAMED = 5


@dataclass(frozen=True)
class SupplierData:
    """What is known of a supplier; an empty currency is the shop's own."""

    name: str
    address: str = ""
    account: str = ""
    terms: str = ""
    currency: str = ""
    email: str = ""
    usual_days: int | None = None


def name_as_kept(shop: Shop, name: str) -> str:
    """A supplier's name as its record has it, whatever letters were typed large."""
    if not name.strip():
        return ""
    found = Supplier.objects.filter(shop=shop, name__iexact=name.strip()).values_list("name", flat=True).first()
    return found or name.strip()


@transaction.atomic
def save_supplier(
    *, shop: Shop, supplier: Supplier | None, data: SupplierData, seen_version: int | None = None
) -> Supplier:
    """Enter a supplier, or change one; parts and orders that name it take another name along.

    Raises:
        StaleVersion: somebody changed it meanwhile.
        ValidationError: two of a name, or another currency while an order is open.
    """
    Shop.objects.select_for_update().only("pk").get(pk=shop.pk)
    saved = supplier or Supplier(shop=shop)
    if supplier is not None and seen_version is not None:
        take_version(supplier, seen_version)
    was, was_currency = saved.name, saved.currency
    saved.name, saved.address, saved.account = data.name.strip(), data.address.strip(), data.account.strip()
    saved.terms, saved.email, saved.usual_days = data.terms.strip(), data.email.strip(), data.usual_days
    saved.currency = "" if data.currency == shop.currency else data.currency
    if Supplier.objects.filter(shop=shop, name__iexact=saved.name).exclude(pk=saved.pk).exists():
        raise ValidationError({"name": "Another supplier has this name."})
    if saved.currency != was_currency and supplier is not None and (numbers := open_orders_of(shop, was)):
        raise ValidationError(
            {"currency": f"Its prices in {_orders(numbers)} would mean something else. Close that first."}
        )
    saved.full_clean(exclude=["shop"])
    saved.save()
    if supplier is not None and saved.currency != was_currency:
        saved.offers.update(price=None)
    if was and was != saved.name:
        StockItem.objects.filter(shop=shop, supplier=was).update(supplier=saved.name)
        PurchaseOrder.objects.filter(shop=shop, supplier=was).update(supplier=saved.name)
        BasketLine.objects.filter(item__shop=shop, supplier=was).update(supplier=saved.name)
    return saved


@transaction.atomic
def archive_supplier(*, supplier: Supplier, seen_version: int, archived: bool) -> Supplier:
    """Order from it no more, or with `archived` False again. What was bought of it stays.

    Raises StaleVersion; ValidationError while an order is open, which it names.
    """
    Shop.objects.select_for_update().only("pk").get(pk=supplier.shop_id)  # no order is placed meanwhile
    take_version(supplier, seen_version)
    if archived and (numbers := open_orders_of(supplier.shop, supplier.name)):
        raise ValidationError(f"{supplier} has {_orders(numbers)} open. Receive what is to come, or close it first.")
    supplier.archived_at = timezone.now() if archived else None
    supplier.save(update_fields=["archived_at"])
    return supplier


def open_orders_of(shop: Shop, name: str) -> list[int]:
    """Numbers of its open orders, the oldest first, a few of them."""
    rows = PurchaseOrder.objects.filter(shop=shop, supplier=name, closed_at__isnull=True).order_by("number")
    return list(rows.values_list("number", flat=True)[:_NAMED])


def _orders(numbers: list[int]) -> str:
    return f"order{'s' if len(numbers) > 1 else ''} {', '.join(map(str, numbers))}"


@transaction.atomic
def set_offer(
    *, item: StockItem, supplier: Supplier, number: str, pack: Decimal, price: Decimal | None
) -> SupplierPart:
    """What a supplier asks for a part: its number there, what a pack holds, and the price of a pack.

    Raises ValidationError for a price of nothing, a pack of half a piece, or a number that is another part's there.
    """
    if price == 0:
        raise ValidationError({"price": "Enter a price above zero, or leave it empty where it is not known."})
    if pack <= 0:
        raise ValidationError({"pack": "A pack holds more than nothing."})
    try:
        check_amount(item.part, pack)
    except ValidationError as refused:
        raise ValidationError({"pack": refused.messages}) from None
    number = number.strip()
    other = SupplierPart.objects.filter(supplier=supplier, number__iexact=number).exclude(item=item)
    if number and (taken := other.select_related("item__part").first()) is not None:
        raise ValidationError({"number": f"{supplier} has that number for “{taken.item.part}”."})
    offer = SupplierPart.objects.filter(item=item, supplier=supplier).first() or SupplierPart(
        item=item, supplier=supplier
    )
    offer.number, offer.pack, offer.price = number, pack, price
    offer.full_clean(exclude=["item", "supplier"])
    offer.save()
    return offer


@transaction.atomic
def prefer(*, item: StockItem, supplier: Supplier, seen_version: int, by: User | None) -> StockItem:
    """Order the part from this supplier from now on. Raises StaleVersion, ValidationError for an archived one."""
    if supplier.archived_at is not None:
        raise ValidationError(f"{supplier} is archived. Use it again first.")
    take_version(item, seen_version)
    item.supplier = supplier.name
    item.save(update_fields=["supplier"])
    return item
