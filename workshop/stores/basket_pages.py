"""Which suppliers stand on which page of what is to be ordered. No Django."""

from __future__ import annotations

from collections.abc import Sequence


def pages_of(counts: Sequence[int], each: int, most: int) -> list[list[int]]:
    """The places of suppliers, page by page, in their order; one empty page where there are none.

    Args:
        counts: how many rows each supplier has.
        each: how many of them are shown at most.
        most: rows a page; a supplier that alone has more has a page of its own.
    """
    pages: list[list[int]] = [[]]
    rows = 0
    for place, count in enumerate(counts):
        shown = min(count, each)
        if pages[-1] and rows + shown > most:
            pages.append([])
            rows = 0
        pages[-1].append(place)
        rows += shown
    return pages
