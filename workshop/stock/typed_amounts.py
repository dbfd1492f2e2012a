"""Quantities typed into the rows of a list, each in a field of its own."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from functools import partial

from specs.numbers import NumberRefused, read_number
from workshop.web.converters import key_from

MOST = Decimal(999_999)


@dataclass(frozen=True)
class TypedAmounts:
    """What could be read, and why the rest could not, both by the row's key. Empty fields are in neither."""

    amounts: Mapping[int, Decimal] = field(default_factory=dict)
    refused: Mapping[int, str] = field(default_factory=dict)


class NoAmount(ValueError):
    """What was typed is no quantity; the message says what to enter."""


def read_amounts(data: Mapping[str, object], prefix: str, *, zero_too: bool = False) -> TypedAmounts:
    """Quantities from fields named `<prefix>-<key>`."""
    return read_rows(data, prefix, partial(read_amount, zero_too=zero_too))


def read_rows(data: Mapping[str, object], prefix: str, read: Callable[[str], Decimal]) -> TypedAmounts:
    """From fields named `<prefix>-<key>`, each by `read`, which raises NoAmount."""
    amounts, refused = {}, {}
    for name, typed in data.items():
        key = key_from(name.removeprefix(f"{prefix}-")) if name.startswith(f"{prefix}-") else None
        text = str(typed).strip()
        if key is None or not text:
            continue
        try:
            amounts[key] = read(text)
        except NoAmount as reason:
            refused[key] = str(reason)
    return TypedAmounts(amounts, refused)


def read_amount(text: str, *, zero_too: bool = False) -> Decimal:
    """A quantity with two places at most, read as specs.numbers says. Raises NoAmount."""
    least = "that is not below zero" if zero_too else "above zero"
    try:
        amount = read_number(text)
    except NumberRefused as refused:
        raise NoAmount(str(refused)) from None
    if amount < 0 or (amount == 0 and not zero_too):
        raise NoAmount(f"“{text[:20]}” cannot be. Enter a quantity {least}.")
    if amount > MOST or amount != round(amount, 2):
        raise NoAmount(f"“{text[:20]}” cannot be. Enter no more than {MOST:,}, with two places at most.")
    return amount
