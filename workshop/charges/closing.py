"""The charges of a ticket, frozen when it is handed back."""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.utils import timezone

from workshop.charges.discounts import check_not_below_nothing
from workshop.charges.models import FinalCharges, TaxRules
from workshop.charges.sums import ChargedLine, Charges, TaxRow
from workshop.charges.tax import tax_rules_for
from workshop.charges.ticket_charges import charges_of
from workshop.staff.models import User
from workshop.tickets.logbook import log
from workshop.tickets.models import Ticket
from workshop.web.number_words import plain_money, plain_price


@transaction.atomic
def freeze_charges(*, ticket: Ticket, by: User | None) -> FinalCharges:
    """Keep what the ticket is charged. Parts that are needed and were not used are not charged.

    Call it with the ticket's row taken, so that nothing is added meanwhile. Where it is opened again, this row goes
    and what was printed of it stays on the receipt.

    Raises:
        ValidationError: more is taken off than it comes to.
    """
    rules = tax_rules_for(ticket)
    charges = charges_of(ticket, used_only=True, rules=rules)
    check_not_below_nothing(charges)
    final = final_charges(ticket=ticket, charges=charges, rules=rules, by=by, at=timezone.now())
    final.full_clean(exclude=["ticket", "by", "lines", "tax_rows"])
    final.save()
    log(ticket=ticket, by=by, kind="charged", values={"amount": plain_money(charges.gross), "currency": final.currency})
    return final


def final_charges(
    *, ticket: Ticket, charges: Charges, rules: TaxRules, by: User | None, at: dt.datetime
) -> FinalCharges:
    """The row that keeps these charges, not saved."""
    return FinalCharges(
        ticket=ticket,
        currency=ticket.shop.currency,
        tax_name=rules.name,
        lines=[_line(line) for line in charges.lines],
        tax_rows=[_row(row) for row in charges.tax_rows],
        prices_include_tax=rules.prices_include_tax,
        net=charges.net,
        tax=charges.tax,
        gross=charges.gross,
        by=by,
        at=at,
    )


def _line(line: ChargedLine) -> dict[str, str]:
    return {
        "kind": line.kind,
        "number": line.number,
        "title": line.title,
        "quantity": str(line.quantity),
        "unit": line.unit,
        "price": plain_price(line.price),
        "tax_percent": str(line.tax_percent),
        "amount": "" if line.amount is None else str(line.amount),
    }


def _row(row: TaxRow) -> dict[str, str]:
    return {"percent": str(row.percent), "net": str(row.net), "tax": str(row.tax), "gross": str(row.gross)}
