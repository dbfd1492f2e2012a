"""A month for the bookkeeper, as CSV that no spreadsheet runs as a formula."""

from __future__ import annotations

import csv
import datetime as dt
import io
from collections.abc import Iterable, Sequence
from decimal import Decimal

from django.utils import timezone

from specs.value_files import safe_cell
from workshop.charges.sums import NOTHING
from workshop.staff.models import Shop
from workshop.till.models import Receipt
from workshop.web.days import end_of, start_of

COLUMNS = (
    "kind", "number", "day", "corrects", "customer", "currency", "tax_name", "tax_percent", "net", "tax", "gross",
)  # fmt: skip
SUM_COLUMNS = ("month", "currency", "tax_name", "tax_percent", "net", "tax", "gross")
_SUMS = ("net", "tax", "gross")


def receipts_csv(shop: Shop, month: dt.date) -> bytes:
    """Each receipt and credit note of a month (any day of it) and each of its tax rates, in the order of issue.

    UTF-8 with a byte order mark, which spreadsheets need. Credit notes are below zero, so the rows add up.
    """
    rows = []
    for one in _of_month(shop, month):
        corrects = one.corrects.number_words if one.corrects else ""
        day = timezone.localtime(one.at).date().isoformat()
        named = [one.kind, one.number_words, day, corrects, one.data["customer"]["name"], one.currency, one.tax_name]
        rows += [[*named, row["percent"], *(row[name] for name in _SUMS)] for row in one.tax_rows]
    return _sheet(COLUMNS, rows)


def rates_csv(shop: Shop, month: dt.date) -> bytes:
    """A month (any day of it) by tax rate: receipts less credit notes."""
    sums: dict[tuple[str, str, Decimal], dict[str, Decimal]] = {}
    for one in _of_month(shop, month):
        for row in one.tax_rows:
            key = one.currency, one.tax_name, Decimal(row["percent"])
            rate = sums.setdefault(key, dict.fromkeys(_SUMS, NOTHING))
            for name in _SUMS:
                rate[name] += Decimal(row[name])
    named = f"{month:%Y-%m}"
    rows = [
        [named, currency, tax_name, str(percent), *(str(rate[name]) for name in _SUMS)]
        for (currency, tax_name, percent), rate in sorted(sums.items())
    ]
    return _sheet(SUM_COLUMNS, rows)


def _of_month(shop: Shop, month: dt.date) -> Iterable[Receipt]:
    first = month.replace(day=1)
    last = (first + dt.timedelta(days=31)).replace(day=1) - dt.timedelta(days=1)
    receipts = Receipt.objects.filter(shop=shop, at__gte=start_of(first), at__lt=end_of(last))
    return receipts.select_related("corrects").order_by("at", "pk")


def _sheet(columns: Sequence[str], rows: Iterable[Sequence[str]]) -> bytes:
    sheet = io.StringIO(newline="")
    writer = csv.writer(sheet)
    writer.writerow(columns)
    for row in rows:
        # Sums below zero are numbers: guarded like words that begin with a minus, they would not be added up.
        words, sums = row[: -len(_SUMS)], row[-len(_SUMS) :]
        writer.writerow([*(safe_cell(cell) for cell in words), *sums])
    return sheet.getvalue().encode("utf-8-sig")
