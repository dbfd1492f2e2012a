"""Keys and numbers in an address, a query or a form."""

from __future__ import annotations

LARGEST_KEY = 2**63 - 1
MOST_DIGITS = len(str(LARGEST_KEY))


def key_from(typed: object) -> int | None:
    """A record's key or number out of an address or a form; None for what is none, or larger than any key."""
    text = str(typed or "")
    if not (text.isascii() and text.isdigit()) or len(text) > MOST_DIGITS:
        return None
    key = int(text)
    return key if key <= LARGEST_KEY else None


class KeyConverter:
    """A record's key or number. One that no database can hold is no record's, and the address is not found."""

    regex = "[0-9]+"

    def to_python(self, value: str) -> int:
        """Raises ValueError, which Django takes for an address that does not fit."""
        key = key_from(value)
        if key is None:
            raise ValueError("larger than any key")
        return key

    def to_url(self, value: int) -> str:
        return str(value)
