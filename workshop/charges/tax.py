"""Which tax rules hold: the shop's on a day, and for a ticket those of what its customer agreed to."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterable, Mapping
from decimal import Decimal
from typing import Any

from django.db.models import OuterRef, Subquery
from django.utils import timezone

from workshop.charges.models import Agreement, TaxRate, TaxRules
from workshop.charges.sums import to_cents
from workshop.staff.models import Shop
from workshop.tickets.models import Ticket


def tax_rules_of(shop: Shop, day: dt.date | None = None) -> TaxRules:
    """The shop's rules with the rates of a day, today where none is said; without a row, no tax. One query."""
    newest = TaxRate.objects.filter(shop=OuterRef("shop"), from_on__lte=day or timezone.localdate()).order_by(
        "-from_on"
    )
    dated = {f"{name}_then": Subquery(newest.values(name)[:1]) for name in _RATES}
    rules = TaxRules.objects.filter(shop=shop).annotate(**dated).first()
    if rules is None:
        return TaxRules(shop=shop, version=0)
    for name in _RATES:
        then = getattr(rules, f"{name}_then")
        setattr(rules, name, getattr(rules, name) if then is None else to_cents(then))
    return rules


_RATES = ("labour_percent", "parts_percent")


def tax_rules_for(ticket: Ticket) -> TaxRules:
    """What a ticket is taxed by: as its newest standing yes has it, else as the shop does today. Two queries."""
    rules = tax_rules_of(ticket.shop)
    return agreed_rules([ticket], rules).get(ticket.pk, rules)


def agreed_rules(tickets: Collection[Ticket], today: TaxRules) -> dict[int, TaxRules]:
    """The rules that tickets' customers agreed to, by the ticket's key, none where nothing stands; one query.

    An estimate from before rates were frozen has those of its day, at a query more for each such ticket.
    """
    answers = (
        Agreement.objects.filter(ticket__in=[ticket.pk for ticket in tickets])
        .order_by("pk")
        .values_list("ticket", "document", "agreed", "document__issued_at", "document__data__charges__tax")
    )
    standing: dict[int, dict[int, tuple[bool, dt.datetime, Mapping[str, str] | None]]] = {}
    for ticket_pk, document_pk, agreed, issued_at, tax in answers:
        standing.setdefault(ticket_pk, {})[document_pk] = (agreed, issued_at, tax)
    found = {}
    for ticket_pk, by_document in standing.items():
        yes = [(pk, at, tax) for pk, (agreed, at, tax) in by_document.items() if agreed]
        if yes:
            _, at, tax = max(yes, key=lambda one: one[0])
            day = timezone.localtime(at).date()
            found[ticket_pk] = _read(tax, today) if tax else tax_rules_of(today.shop, day)
    return found


def tax_block(rules: TaxRules) -> dict[str, Any]:
    """Tax rules as plain JSON, as an estimate freezes them."""
    return {
        "name": rules.name,
        "labour_percent": str(rules.labour_percent),
        "parts_percent": str(rules.parts_percent),
        "included": rules.prices_include_tax,
        "rounding": str(rules.rounding),
    }


def _read(block: Mapping[str, Any], today: TaxRules) -> TaxRules:
    return TaxRules(
        shop=today.shop,
        name=block["name"],
        labour_percent=Decimal(block["labour_percent"]),
        parts_percent=Decimal(block["parts_percent"]),
        prices_include_tax=block["included"],
        rounding=block["rounding"],
    )


def rates_to_come(shop: Shop) -> Iterable[TaxRate]:
    """Rates whose day is still to come, the first first; one query."""
    return TaxRate.objects.filter(shop=shop, from_on__gt=timezone.localdate()).select_related("by")
