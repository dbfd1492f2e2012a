"""Prices and remarks typed into the rows of a list."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

from specs.numbers import NumberRefused, read_number
from workshop.stock.typed_amounts import MOST, NoAmount, TypedAmounts, read_rows
from workshop.web.converters import key_from


def read_prices(data: Mapping[str, object], prefix: str) -> TypedAmounts:
    """Prices from fields named `<prefix>-<key>`."""
    return read_rows(data, prefix, _price)


def _price(text: str) -> Decimal:
    try:
        price = read_number(text, decimals=4)
    except NumberRefused as reason:
        raise NoAmount(str(reason)) from None
    if not 0 <= price <= MOST or price != round(price, 4):
        raise NoAmount(f"“{text[:20]}” is no price. Enter one from 0 to {MOST:,}, with four places at most.")
    return price


def words_of_price(data: Mapping[str, object], prefix: str, key: int) -> str:
    """The remark typed into a row."""
    return str(data.get(f"{prefix}-{key}", "")).strip()[:120]


def meant_rows(data: Mapping[str, object]) -> set[int]:
    """Rows whose odd price was said to be meant: the tick holds for the one price it names."""
    return {
        key
        for name, value in data.items()
        if name.startswith("meant-")
        and (key := key_from(name.removeprefix("meant-"))) is not None
        and value == data.get(f"price-{key}", "")
    }
