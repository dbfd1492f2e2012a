"""What can be brought in, in the order in which it is best done: what is pointed at comes first."""

from __future__ import annotations

from collections.abc import Mapping

from workshop.customers.bike_sheet import BikeSheet
from workshop.customers.customer_sheet import CustomerSheet
from workshop.moving.kit_sheet import KitSheet
from workshop.moving.model_sheet import ModelSheet
from workshop.moving.value_sheet import ValueSheet
from workshop.sheets.kind import SheetKind
from workshop.stock.part_sheet import PartSheet
from workshop.stock.supplier_sheet import SupplierSheet
from workshop.suspension.unit_sheet import UnitSheet

MODELS, VALUES, SUPPLIERS, PARTS, KITS = ModelSheet(), ValueSheet(), SupplierSheet(), PartSheet(), KitSheet()
CUSTOMERS, BIKES, UNITS = CustomerSheet(), BikeSheet(), UnitSheet()
KINDS: Mapping[str, SheetKind] = {
    kind.key: kind for kind in (MODELS, VALUES, SUPPLIERS, PARTS, KITS, CUSTOMERS, BIKES, UNITS)
}
