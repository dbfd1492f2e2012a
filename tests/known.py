"""What a test knows to be there although its type allows none: the shop of a clerk, the first of some rows."""

from __future__ import annotations

from typing import TypeVar

T = TypeVar("T")


def known(value: T | None) -> T:
    """The value. Fails where there is none."""
    assert value is not None
    return value
