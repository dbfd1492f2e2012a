"""A price changed by per cent, and rounded as the shop says."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workshop.stock.rounding import FINEST, changed, rounded


@pytest.mark.parametrize(
    ("price", "step", "becomes"),
    [
        ("12.34", "0.05", "12.35"), ("12.325", "0.05", "12.35"), ("12.32", "0.05", "12.30"), ("12.34", "0.10", "12.30"),
        ("12.50", "1", "13"), ("12.49", "1", "12"), ("0.014949", "0.0001", "0.0149"), ("7.25", "0.50", "7.50"),
    ],
)  # fmt: skip
def test_it_is_the_nearest_half_up(price: str, step: str, becomes: str) -> None:
    assert rounded(Decimal(price), Decimal(step)) == Decimal(becomes)


@pytest.mark.parametrize(
    ("price", "percent", "step", "becomes", "why"),
    [
        ("10.00", "3", "0.05", "10.30", ""),
        ("0.0149", "3", "0.0001", "0.0153", ""),
        ("0.02", "3", "0.05", "0.02", "Rounded, it would be free."),
        ("0", "3", "0.05", "0", "It is free of charge."),
        ("900000", "50", "1", "900000", "It would be more than 999,999."),
        ("10.03", "0.1", "0.05", "10.05", ""),
        ("10.02", "0.01", "0.05", "10.02", "Rounded, it would move the other way."),
        ("10.08", "-1", "0.10", "10.00", ""),
    ],
)
def test_what_a_price_becomes(price: str, percent: str, step: str, becomes: str, why: str) -> None:
    found = changed(Decimal(price), Decimal(percent), Decimal(step))
    assert (found.price, found.why) == (Decimal(becomes), why)


@given(st.decimals("0.01", "9999", places=4), st.decimals(-90, 300, places=2), st.sampled_from(["0.05", "0.10", "1"]))
def test_it_is_a_multiple_or_stays(price: Decimal, percent: Decimal, step: str) -> None:
    found = changed(price, percent, Decimal(step))
    assert found.price == price or (found.price % Decimal(step) == 0 and found.price > 0)
    assert found.price % FINEST == 0
