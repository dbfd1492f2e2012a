"""What a ticket costs: its labour and parts under the shop's tax rules."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext

from specs.models import Part
from workshop.charges.models import Discount, FinalCharges, LabourLine, TaxRules
from workshop.charges.sums import LABOUR, NOTHING, PART, ChargedLine, Charges, TaxRow, add_up
from workshop.charges.tax import tax_block, tax_rules_for
from workshop.staff.models import Shop
from workshop.tickets.models import PartLine, Ticket
from workshop.tickets.models.part_line import Warranty
from workshop.web.number_words import figures, shop_money, shop_price

# A ticket in these states is charged what was used; before, what is still needed counts too.
DONE = (Ticket.State.READY, Ticket.State.HANDED_BACK, Ticket.State.CALLED_OFF)


def charges_of(
    ticket: Ticket,
    *,
    used_only: bool | None = None,
    part_lines: Iterable[PartLine] | None = None,
    rules: TaxRules | None = None,
) -> Charges:
    """What the ticket comes to, in five queries; less what the caller knows already.

    Args:
        used_only: leave out parts that are needed and not used; by default once the ticket is ready.
        part_lines: all lines of the ticket with their parts.
        rules: tax rules; by default as agreed, else the shop's.
    """
    only = ticket.state in DONE if used_only is None else used_only
    statuses = [PartLine.Status.USED] if only else [PartLine.Status.NEEDED, PartLine.Status.USED]
    known = ticket.part_lines.select_related("part").order_by("pk") if part_lines is None else part_lines
    parts = [line for line in known if line.status in statuses]
    labour = ticket.labour_lines.filter(dropped=False)
    discounts = ticket.discounts.filter(dropped=False)
    return charges_under(rules or tax_rules_for(ticket), labour, parts, discounts)


def charges_of_all(
    ticket: Ticket, rules: TaxRules, more_labour: Iterable[LabourLine], more_parts: Iterable[PartLine]
) -> Charges:
    """What the ticket would come to with more on it, all that is needed and used counted; three queries."""
    parts = ticket.part_lines.select_related("part").exclude(status=PartLine.Status.DROPPED).order_by("pk")
    labour = ticket.labour_lines.filter(dropped=False)
    discounts = ticket.discounts.filter(dropped=False)
    return charges_under(rules, [*labour, *more_labour], [*parts, *more_parts], discounts)


def standing_charges(ticket: Ticket, part_lines: Iterable[PartLine] | None = None) -> tuple[Charges, TaxRules]:
    """Charges and the rules they follow: frozen once the ticket is handed back, reckoned now before that.

    `part_lines`, all of the ticket's, save a query where the caller has them.
    """
    final = FinalCharges.objects.filter(ticket=ticket).first() if ticket.state == Ticket.State.HANDED_BACK else None
    if final is None:
        rules = tax_rules_for(ticket)
        return charges_of(ticket, part_lines=part_lines, rules=rules), rules
    rules = TaxRules(shop=ticket.shop, name=final.tax_name, prices_include_tax=final.prices_include_tax)
    lines = tuple(
        ChargedLine(
            kind=line["kind"],
            number=line["number"],
            title=line["title"],
            quantity=Decimal(line["quantity"]),
            unit=line["unit"],
            price=Decimal(line["price"]) if line["price"] else None,
            amount=Decimal(line["amount"]) if line["amount"] else None,
            tax_percent=Decimal(line["tax_percent"]),
        )
        for line in final.lines
    )
    rows = tuple(TaxRow(*(Decimal(row[key]) for key in ("percent", "net", "tax", "gross"))) for row in final.tax_rows)
    return Charges(lines, rows, final.net, final.tax, final.gross), rules


def charges_under(
    rules: TaxRules, labour: Iterable[LabourLine], parts: Iterable[PartLine], discounts: Iterable[Discount] = ()
) -> Charges:
    """Lines already fetched, summed under tax rules; asks the database nothing."""
    lines = [_labour(line, rules) for line in labour] + [_part(line, rules) for line in parts]
    lines += [_discount(line, rules) for line in discounts]
    each_line = rules.rounding == TaxRules.Rounding.LINE
    return add_up(lines, prices_include_tax=rules.prices_include_tax, round_each_line=each_line)


def charges_block(charges: Charges, rules: TaxRules, shop: Shop) -> dict[str, Any]:
    """Charges as plain JSON, for a document: what is shown, and `gross` as a decimal in text."""

    return {
        "lines": [
            {
                "kind": line.kind,
                "number": line.number,
                "title": line.title,
                "quantity": f"{figures(line.quantity)} {line.unit}".strip(),
                "price": shop_price(line.price, shop),
                "amount": shop_money(line.amount, shop),
            }
            for line in charges.lines
        ],
        "tax_rows": [
            {
                "label": gettext("%(tax)s %(percent)s %% on %(net)s")
                % {"tax": rules.name, "percent": figures(row.percent), "net": shop_money(row.net, shop)},
                "tax": shop_money(row.tax, shop),
            }
            for row in charges.tax_rows
            if row.percent
        ],
        "included": rules.prices_include_tax,
        "net_words": shop_money(charges.net, shop),
        "gross_words": shop_money(charges.gross, shop),
        "unpriced": charges.unpriced,
        "gross": str(charges.gross),
        "tax": tax_block(rules),
    }


def titled(title: str, warranty: str) -> str:
    """A line as every screen and paper names it: what a warranty bears says so, and whose that is."""
    if not warranty:
        return title
    return gettext("%(title)s, under %(warranty)s") % {"title": title, "warranty": Warranty(warranty).label}


def _labour(line: LabourLine, rules: TaxRules) -> ChargedLine:
    return ChargedLine(
        kind=LABOUR,
        title=titled(line.words, line.warranty),
        quantity=Decimal(1 if line.minutes is None else line.minutes),
        unit="" if line.minutes is None else "min",
        price=line.price if line.minutes is None else line.rate_hour,
        amount=NOTHING if line.warranty else line.price,
        tax_percent=rules.labour_percent,
    )


def _part(line: PartLine, rules: TaxRules) -> ChargedLine:
    part = line.part
    return ChargedLine(
        kind=PART,
        title=titled(line.title, line.warranty),
        quantity=line.quantity,
        unit="ml" if part is not None and part.measure == Part.Measure.ML else "",
        price=line.unit_price,
        amount=line.total,
        tax_percent=rules.parts_percent,
        number=part.number if part is not None else "",
    )


def _discount(line: Discount, rules: TaxRules) -> ChargedLine:
    """Below zero, among the lines of the rate that it comes off."""
    of_parts = line.off == Discount.Off.PARTS
    return ChargedLine(
        kind=PART if of_parts else LABOUR,
        title=gettext("Discount: %(reason)s") % {"reason": line.reason},
        quantity=Decimal(1),
        unit="",
        price=-line.amount,
        amount=-line.amount,
        tax_percent=rules.parts_percent if of_parts else rules.labour_percent,
    )
