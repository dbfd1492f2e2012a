"""Suppliers from a sheet, known by their name."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from workshop.sheets.columns import Column
from workshop.sheets.records import Cells, Entries, RecordSheet, check, number_in, said
from workshop.staff.models import Shop, User
from workshop.stock.models import StockItem
from workshop.stock.purchase_models import PurchaseOrder
from workshop.stock.supplier_models import Supplier
from workshop.stock.suppliers import SupplierData, save_supplier
from workshop.web.folding import fold

_WORDS = ("name", "address", "account", "terms", "currency", "email")


class SuppliersThere:
    """The shop's suppliers by name, whatever letters are large; one query."""

    def __init__(self, shop: Shop) -> None:
        self.by_name = {fold(one.name): one for one in Supplier.objects.filter(shop=shop)}

    def match(self, cells: Cells) -> Supplier | None:
        return self.by_name.get(fold(cells.get("name", "")))

    def learn(self, record: Supplier, number: str) -> None:
        self.by_name[fold(record.name)] = record

    def customer_of(self, cells: Cells, record: Supplier | None) -> int | None:
        return None


class SupplierSheet(RecordSheet[Supplier]):
    key = "suppliers"
    title = "Suppliers"
    thing = "supplier"
    shown = ("name", "email")
    key_column = "name"
    columns = (
        Column("name", "Its name, as parts name it", ("supplier", "company", "lieferant", "firma"), required=True,
               sample="North"),
        Column("address", "Street and town", ("street", "adresse", "anschrift"), sample="2 Sample Lane, Sampletown"),
        Column("account", "The shop’s number there", ("account number", "customer number", "kundennummer"),
               sample="4711"),
        Column("terms", "Terms of payment", ("payment terms", "zahlungsbedingungen"), sample="30 days"),
        Column("currency", "Of its prices; empty is the shop’s own", ("währung",), unit="three letters, such as EUR"),
        Column("email", "Where orders go", ("e-mail", "mail", "email address"), sample="orders@north.example"),
        Column("usual_days", "Usually to deliver", ("lead time", "delivery days", "lieferzeit"), decimals=0,
               unit="days", sample="4"),
    )  # fmt: skip

    def key_of(self, cells: Cells) -> str:
        return fold(cells.get("name", ""))

    def there(self, shop: Shop, rows: Sequence[Cells]) -> SuppliersThere:
        return SuppliersThere(shop)

    def get(self, shop: Shop, pk: int) -> Supplier | None:
        return Supplier.objects.filter(shop=shop, pk=pk).first()

    def texts(self, record: Supplier) -> dict[str, str]:
        texts = {name: str(getattr(record, name)).replace("\r\n", "\n").strip() for name in _WORDS}
        return texts | {"usual_days": "" if record.usual_days is None else str(record.usual_days)}

    def entries(self, shop: Shop, cells: Cells, there: Any, record: Supplier | None) -> Entries:
        entries = said(cells, _WORDS)
        if "currency" in entries:
            entries["currency"] = entries["currency"].upper()
            if entries["currency"] == shop.currency:  # as `save_supplier` keeps it
                entries["currency"] = ""
        if (days := number_in(cells, "usual_days", decimals=0, low=0, high=365)) is not None:
            entries["usual_days"] = int(days)
        if record is not None:
            entries.pop("name", None)  # it is how the supplier is known
        return entries

    def build(self, shop: Shop, record: Supplier | None, entries: Entries) -> Supplier:
        built = record or Supplier(shop=shop)
        for name, value in entries.items():
            setattr(built, name, value)
        check(built, exclude=["shop"])
        return built

    def save(self, shop: Shop, record: Supplier | None, entries: Entries, by: User | None) -> Supplier:
        known = SupplierData("") if record is None else SupplierData(
            **{name: getattr(record, name) for name in (*_WORDS, "usual_days")}
        )  # fmt: skip
        return save_supplier(
            shop=shop,
            supplier=record,
            data=replace(known, **entries),
            seen_version=record.version if record is not None else None,
        )

    def emptied(self, names: Sequence[str]) -> Entries:
        return {name: None if name == "usual_days" else "" for name in names}

    def uses(self, shop: Shop, record: Supplier) -> list[str]:
        named = {
            "parts": StockItem.objects.filter(shop=shop, supplier=record.name),
            "orders": PurchaseOrder.objects.filter(shop=shop, supplier=record.name),
        }
        return [*super().uses(shop, record), *(words for words, rows in named.items() if rows.exists())]
