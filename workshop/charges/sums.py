"""Adding up what is charged, and its tax, to the cent. Decimals only; no Django."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

CENT = Decimal("0.01")
NOTHING = Decimal("0.00")
LABOUR, PART = "labour", "part"


def to_cents(amount: Decimal) -> Decimal:
    """Rounded half up to two places, as invoices are."""
    return amount.quantize(CENT, rounding=ROUND_HALF_UP)


def labour_price(minutes: int, rate_hour: Decimal) -> Decimal:
    """What so many minutes cost at a rate an hour."""
    return to_cents(rate_hour * minutes / 60)


@dataclass(frozen=True)
class ChargedLine:
    """A line with its amount, to the cent; `amount` is None where nobody has set a price yet."""

    kind: str
    title: str
    quantity: Decimal
    unit: str
    price: Decimal | None
    amount: Decimal | None
    tax_percent: Decimal
    number: str = ""


@dataclass(frozen=True)
class TaxRow:
    """The tax of one rate."""

    percent: Decimal
    net: Decimal
    tax: Decimal
    gross: Decimal


@dataclass(frozen=True)
class Charges:
    """Lines, the tax of each rate, and what it comes to. `unpriced` lines are not in the sums."""

    lines: tuple[ChargedLine, ...]
    tax_rows: tuple[TaxRow, ...]
    net: Decimal
    tax: Decimal
    gross: Decimal

    @property
    def unpriced(self) -> int:
        return sum(1 for line in self.lines if line.amount is None)

    @property
    def has_tax(self) -> bool:
        return any(row.percent for row in self.tax_rows)


def add_up(lines: Iterable[ChargedLine], *, prices_include_tax: bool, round_each_line: bool) -> Charges:
    """Sum the lines by tax rate.

    The tax of a rate is that of its sum, rounded once (as EN 16931, rule BR-CO-17, has it), or with
    `round_each_line` the sum of each line's rounded tax. Where prices include tax, it is taken out of them.
    """
    listed = tuple(lines)
    by_rate: dict[Decimal, list[Decimal]] = {}
    for line in listed:
        if line.amount is not None:
            by_rate.setdefault(line.tax_percent, []).append(line.amount)
    rows = []
    for percent, amounts in sorted(by_rate.items()):
        total = sum(amounts, NOTHING)
        parts = amounts if round_each_line else [total]
        tax = sum((_tax_of(amount, percent, prices_include_tax) for amount in parts), NOTHING)
        net = total - tax if prices_include_tax else total
        rows.append(TaxRow(percent, net, tax, net + tax))
    return Charges(
        lines=listed,
        tax_rows=tuple(rows),
        net=sum((row.net for row in rows), NOTHING),
        tax=sum((row.tax for row in rows), NOTHING),
        gross=sum((row.gross for row in rows), NOTHING),
    )


def _tax_of(amount: Decimal, percent: Decimal, included: bool) -> Decimal:
    return to_cents(amount * percent / (100 + percent if included else 100))
