"""Adding up charges and tax, against exact fractions and the rule of EN 16931 (BR-CO-17: tax is on the rate's sum)."""

from __future__ import annotations

import math
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workshop.charges.sums import ChargedLine, Charges, add_up, labour_price, to_cents


def line(amount: str | Decimal | None, percent: str | Decimal = "20", kind: str = "labour") -> ChargedLine:
    money = None if amount is None else Decimal(amount)
    return ChargedLine(kind, "Lowers service", Decimal(1), "", money, money, Decimal(percent))


def summed(*lines: ChargedLine, included: bool = False, each_line: bool = False) -> Charges:
    return add_up(lines, prices_include_tax=included, round_each_line=each_line)


def half_up(exact: Fraction) -> Decimal:
    """To two places with whole numbers alone, apart from the decimals that the code uses."""
    return Decimal(math.floor(exact * 100 + Fraction(1, 2))) / 100


def test_two_rates_are_taxed_apart() -> None:
    charges = summed(line("75.00", "20"), line("23.00", "5.5"), line("12.00", "5.5"))
    assert [(row.percent, row.net, row.tax, row.gross) for row in charges.tax_rows] == [
        (Decimal("5.5"), Decimal("35.00"), Decimal("1.93"), Decimal("36.93")),  # 1.925 rounds up
        (Decimal("20"), Decimal("75.00"), Decimal("15.00"), Decimal("90.00")),
    ]
    assert (charges.net, charges.tax, charges.gross) == (Decimal("110.00"), Decimal("16.93"), Decimal("126.93"))


def test_rounding_each_line_and_rounding_the_sum_differ() -> None:
    lines = [line("0.12", "20")] * 3  # 0.024 each: 0.02 a line, 0.072 together
    assert summed(*lines, each_line=True).tax == Decimal("0.06")
    assert summed(*lines).tax == Decimal("0.07")


def test_included_tax_is_taken_out_of_the_price() -> None:
    charges = summed(line("120.00", "20"), included=True)
    assert (charges.net, charges.tax, charges.gross) == (Decimal("100.00"), Decimal("20.00"), Decimal("120.00"))


def test_a_line_without_a_price_is_counted_and_not_summed() -> None:
    charges = summed(line("10.00"), line(None))
    assert (charges.unpriced, charges.net) == (1, Decimal("10.00"))


def test_nothing_comes_to_nothing() -> None:
    assert (summed().gross, summed().has_tax) == (Decimal("0.00"), False)


@pytest.mark.parametrize(("minutes", "rate", "price"), [(45, "60", "45.00"), (20, "50", "16.67"), (1, "60.3", "1.01")])
def test_minutes_cost_their_share_of_an_hour(minutes: int, rate: str, price: str) -> None:
    assert labour_price(minutes, Decimal(rate)) == Decimal(price)


def test_half_a_cent_is_rounded_up() -> None:
    assert to_cents(Decimal("0.125")) == Decimal("0.13")


money = st.integers(0, 5_000_000).map(lambda cents: Decimal(cents) / 100)
percents = st.integers(0, 10_000).map(lambda hundredths: Decimal(hundredths) / 100)


@given(st.lists(money, min_size=1, max_size=12), percents, st.booleans(), st.booleans())
def test_sums_agree_with_exact_fractions(
    amounts: list[Decimal], percent: Decimal, included: bool, each_line: bool
) -> None:
    charges = summed(*(line(amount, percent) for amount in amounts), included=included, each_line=each_line)
    share = Fraction(percent) / (100 + Fraction(percent) if included else 100)
    bases = amounts if each_line else [sum(amounts, Decimal(0))]
    tax = sum((half_up(Fraction(base) * share) for base in bases), Decimal(0))
    assert charges.tax == tax
    assert charges.net + charges.tax == charges.gross
    assert (charges.gross if included else charges.net) == sum(amounts)
