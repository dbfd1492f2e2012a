"""Charges for the books, as CSV that no spreadsheet runs as a formula: a row a ticket and tax rate."""

from __future__ import annotations

import csv
import datetime as dt
import io

from django.utils import timezone

from specs.value_files import safe_cell
from workshop.charges.models import FinalCharges
from workshop.staff.models import Shop
from workshop.tickets.whose import of_the_shop
from workshop.web.days import end_of, start_of

COLUMNS = (
    "ticket", "handed_back_on", "customer", "unit", "currency", "tax_name", "tax_percent", "net", "tax", "gross",
)  # fmt: skip


def charges_csv(shop: Shop, first: dt.date, last: dt.date) -> bytes:
    """Charges of tickets handed back from `first` to `last`, both included, by the shop's clock.

    UTF-8 with a byte order mark, which spreadsheets need. The rows of a ticket add up to what it was charged.
    """
    sheet = io.StringIO(newline="")
    writer = csv.writer(sheet)
    writer.writerow(COLUMNS)
    finals = (
        FinalCharges.objects.filter(of_the_shop(shop), at__gte=start_of(first), at__lt=end_of(last))
        .select_related("ticket__customer", "ticket__unit__model")
        .order_by("at", "pk")
    )
    for final in finals:
        ticket = final.ticket
        day = timezone.localtime(final.at).date().isoformat()
        named = [str(ticket.number), day, ticket.customer.name, ticket.unit.title, final.currency, final.tax_name]
        for row in final.tax_rows:
            cells = [*named, row["percent"], row["net"], row["tax"], row["gross"]]
            writer.writerow([safe_cell(cell) for cell in cells])
    return sheet.getvalue().encode("utf-8-sig")
