"""What was charged, by month: labour, parts and tax. No Django."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from workshop.charges.sums import NOTHING, to_cents
from workshop.office.figures.period import Period
from workshop.office.figures.sheet import CellKind, Figure, FigureColumn, FigureRow, Section, Tickets
from workshop.plots.columns import Fill, Series, columns
from workshop.web.number_words import money_words


@dataclass(frozen=True)
class Charge:
    """What one ticket was charged. Net is without tax; `labour` of it is labour, the rest parts."""

    ticket: int
    on: dt.date
    currency: str
    labour: Decimal
    net: Decimal
    tax: Decimal
    gross: Decimal

    @property
    def parts(self) -> Decimal:
        return self.net - self.labour


def without_tax(amount: Decimal, percent: Decimal, *, includes_tax: bool) -> Decimal:
    """A line's amount without its tax, to the cent."""
    return to_cents(amount * 100 / (100 + percent)) if includes_tax else amount


def money_figure(charges: Sequence[Charge], period: Period, currency: str, country: str = "") -> Figure:
    """Charges of the tickets handed back in the period. Currencies are never added to each other."""
    in_period = [charge for charge in charges if charge.on in period]
    currencies = sorted({charge.currency for charge in in_period} | {currency}, key=lambda one: (one != currency, one))
    sections = tuple(
        _section([charge for charge in in_period if charge.currency == one], period, one) for one in currencies
    )
    net = sum((charge.net for charge in in_period if charge.currency == currency), NOTHING)
    count = sum(1 for charge in in_period if charge.currency == currency)
    return Figure(
        f"{money_words(net, currency, country)} before tax on {count} {'ticket' if count == 1 else 'tickets'}.",
        sections,
        (
            "What was charged at hand-back, frozen then: later prices do not change it. A ticket stands in the "
            "month in which it was handed back. What a shop paid for parts and hours is not in here, and what was "
            "credited later is not taken off: the month’s receipts have that.",
            "Labour and parts are without tax. Where prices include the tax it is taken out line by line, and "
            "the cents that rounding leaves stand with the parts, so that labour, parts and tax add up to what was "
            "charged.",
        ),
    )


def _section(charges: Sequence[Charge], period: Period, currency: str) -> Section:
    groups: dict[str, list[Charge]] = defaultdict(list)
    for charge in charges:
        groups[period.step_key(charge.on)].append(charge)
    rows = [_row(step.key, step.words, groups.get(step.key, [])) for step in period.steps]
    plot = columns(
        key=f"money-{currency.lower()}",
        places=[step.words for step in period.steps],
        series=[
            Series(words, [float(str(row.values[place])) for row in rows], fill)
            for words, place, fill in (
                ("labour", 2, Fill.SOLID),
                ("parts", 3, Fill.LIGHT),
                ("tax", 5, Fill.HATCHED),
            )
        ],
        x_label=period.step_words,
        y_label=currency,
        summary=f"Labour, parts and tax in {currency} by month. The figures are in the table.",
        stacked=True,
    )
    rows.append(_row("all", "Total", charges, is_total=True))
    return Section(
        f"money-{currency.lower()}",
        f"Charged, in {currency}",
        (
            FigureColumn("Handed back in"),
            FigureColumn("Tickets", CellKind.COUNT),
            FigureColumn("Labour", CellKind.MONEY),
            FigureColumn("Parts", CellKind.MONEY),
            FigureColumn("Before tax", CellKind.MONEY),
            FigureColumn("Tax", CellKind.MONEY),
            FigureColumn("Charged", CellKind.MONEY),
        ),
        tuple(rows),
        plot,
    )


def _row(key: str, words: str, charges: Sequence[Charge], *, is_total: bool = False) -> FigureRow:
    def total(name: str) -> Decimal:
        return sum((getattr(charge, name) for charge in charges), NOTHING)

    tickets = Tickets.of(charge.ticket for charge in charges)
    sums = tuple(total(name) for name in ("labour", "parts", "net", "tax", "gross"))
    return FigureRow(key, (words, tickets, *sums), is_total)
