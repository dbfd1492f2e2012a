"""Every table that can be taken away as a file: no cell of it is a formula to a spreadsheet (CWE-1236)."""

from __future__ import annotations

import csv
import io
import re

import pytest
from django.db.models import CharField, Model, TextField, Value
from django.db.models.functions import Cast, Concat
from django.test import Client
from django.urls import reverse

from specs.models import KitLine, Part, ServiceKit, SpecValue, SuspensionModel
from tests.addresses import parts_of
from tests.full_shop import full_shop
from tests.workshop.test_shops_apart import FILTERS, shown
from tests.workshop.test_who_may_enter import the_table, undone
from workshop.models import Customer, OrderLine, PurchaseOrder, StockItem, StockMovement, SuspensionUnit

# Full-width signs count in some languages' spreadsheets, and some pass over blanks and line ends before a sign.
FORMULAS = ('=HYPERLINK("x")', "\n=1+1", "  @SUM(1)", "＝1+1")
SIGNS = ("=", "+", "-", "@", "＝", "＋", "－", "＠")
TYPED_INTO: tuple[type[Model], ...] = (Customer, SuspensionUnit, StockItem, PurchaseOrder, OrderLine, StockMovement)
TYPED_INTO += (SuspensionModel, SpecValue, Part, ServiceKit, KitLine)


@pytest.mark.django_db
@pytest.mark.parametrize("formula", FORMULAS)
def test_no_cell_of_any_table_is_a_formula(client: Client, formula: str) -> None:
    shop = full_shop("Aldermoor")
    client.force_login(shop.owner)
    for model in TYPED_INTO:
        for field in model._meta.get_fields():
            wide_enough = isinstance(field, TextField) or (getattr(field, "max_length", None) or 0) > len(formula) + 3
            if isinstance(field, CharField | TextField) and wide_enough and not field.choices and not field.unique:
                model._default_manager.update(**{field.name: Concat(Value(formula), Cast("pk", CharField()))})
    tables, told = [], []
    for name, row in the_table().items():
        if row["get"] in {"-", "link", "anyone"}:
            continue
        response = undone(client, "get", reverse(name, kwargs=shop.arguments(name, parts_of(name))), FILTERS)
        if response["Content-Type"].startswith("text/csv"):
            tables.append(name)
            rows = list(csv.reader(io.StringIO(shown(response).removeprefix("\ufeff"))))
            told += [f"{name}: {cell}" for cells in rows for cell in cells if is_formula(cell)]
    assert not told, "\n".join(told)
    assert {"stores:export_parts", "stores:order_csv", "office:books", "office:specs_export"} <= set(tables)


def is_formula(cell: str) -> bool:
    return cell.lstrip().startswith(SIGNS) and re.fullmatch(r"[+-]?[0-9.,]+", cell) is None
