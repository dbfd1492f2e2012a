"""How many of something, as people say it: “1 row”, “2 rows”, “1,440 rows”. One function for every count in a text."""

from __future__ import annotations


def counted(count: int, one: str, many: str = "") -> str:
    """A count with its word, thousands apart.

    Args:
        one: the word for a single one, or all of a sentence that changes with it (“row is the same”).
        many: the same for none and for several; `one` with an s where it is left out.
    """
    return f"{count:,} {one if count == 1 else many or f'{one}s'}"
