"""A purchase list on paper and as CSV."""

from __future__ import annotations

import csv
import io
from decimal import Decimal
from typing import Any

from django.utils import timezone

from specs.value_files import safe_cell
from workshop.documents.common import date_text, shop_block
from workshop.documents.rendering import html_of, pdf_of
from workshop.stock.amounts import measured
from workshop.stock.purchase_models import OrderLine, PurchaseOrder
from workshop.stock.supplier_models import Supplier
from workshop.web.number_words import figures, plain_price, price_figures, shop_money

COLUMNS = (
    "order", "supplier", "number", "description", "size", "quantity", "measure", "cost_each", "cost",
    "supplier_number", "pack",
)  # fmt: skip


def list_data(order: PurchaseOrder) -> dict[str, Any]:
    """What the paper prints."""
    lines = _lines(order)
    costs = [line.cost_of_all for line in lines]
    known = [cost for cost in costs if cost is not None]
    currency = order.currency or order.shop.currency
    supplier = Supplier.objects.filter(shop=order.shop_id, name=order.supplier).first()
    return {
        "title": f"Purchase order {order.number}",
        "number": order.number,
        "supplier": order.supplier,
        "address": supplier.address if supplier else "",
        "account": supplier.account if supplier else "",
        "note": order.note,
        "ordered": date_text(timezone.localtime(order.ordered_at).date()),
        "expected": date_text(order.expected_on) if order.expected_on else "",
        "shop": shop_block(order.shop),
        "lines": [
            {
                "number": line.item.part.number,
                "title": line.item.part.description,
                "size": line.item.part.size,
                "quantity": measured(line.ordered, line.item.part),
                "their_number": line.supplier_number,
                "packs": packs_in_words(line),
                "each": "" if line.cost is None else price_figures(line.cost),
                "cost": shop_money(cost, order.shop, currency),
            }
            for line, cost in zip(lines, costs, strict=True)
        ],
        "total": shop_money(sum(known, Decimal(0)), order.shop, currency),
        "uncosted": len(costs) - len(known),
    }


def list_pdf(order: PurchaseOrder) -> bytes:
    """On the shop's paper. Raises workshop.documents.rendering.PdfUnavailable."""
    return pdf_of(html_of("documents/purchase_list.html", list_data(order)), order.shop.paper)


def list_csv(order: PurchaseOrder) -> bytes:
    """UTF-8 with a byte order mark; no cell is run as a formula."""
    sheet = io.StringIO(newline="")
    writer = csv.writer(sheet)
    writer.writerow(COLUMNS)
    for line in _lines(order):
        part, cost = line.item.part, line.cost_of_all
        cells = [
            str(order.number), order.supplier, part.number, part.description, part.size, figures(line.ordered),
            part.get_measure_display(), plain_price(line.cost), "" if cost is None else str(cost),
            line.supplier_number, figures(line.pack),
        ]  # fmt: skip
        writer.writerow([safe_cell(cell) for cell in cells])
    return sheet.getvalue().encode("utf-8-sig")


def _lines(order: PurchaseOrder) -> list[OrderLine]:
    """What is still ordered; a line that was cancelled is not on the list."""
    return list(order.lines.filter(ordered__gt=0).select_related("item__part"))


def packs_in_words(line: OrderLine) -> str:
    """“2 × 10”, “2 × 500 ml”; "" for what is bought one by one."""
    if line.pack == 1 or line.ordered % line.pack:
        return ""
    return f"{figures(line.ordered / line.pack)} × {measured(line.pack, line.item.part)}"
