"""Parts of an address that are numbers."""

from __future__ import annotations

LARGEST_KEY = 2**63 - 1


class KeyConverter:
    """A record's key or number. One that no database can hold is no record's, and the address is not found."""

    regex = "[0-9]+"

    def to_python(self, value: str) -> int:
        """Raises ValueError, which Django takes for an address that does not fit."""
        if len(value) > len(str(LARGEST_KEY)) or (key := int(value)) > LARGEST_KEY:
            raise ValueError("larger than any key")
        return key

    def to_url(self, value: int) -> str:
        return str(value)
