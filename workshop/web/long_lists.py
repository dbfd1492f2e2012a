"""Lists that grow with the years: counted and leafed through up to a number that nobody reads beyond."""

from __future__ import annotations

from typing import Any

from django.core.paginator import Paginator
from django.db.models import QuerySet
from django.utils.functional import cached_property

MOST = 1000


class Tally(int):
    """How many rows there are, counted up to MOST: “17”, or “1,000+”."""

    def __str__(self) -> str:
        return f"{MOST:,}+" if self >= MOST else f"{int(self)}"


def tally(rows: QuerySet[Any, Any]) -> Tally:
    """Count the rows, no further than MOST."""
    return Tally(rows.order_by()[:MOST].count())


class LongListPaginator(Paginator[Any]):
    """The pages of the first MOST rows of a query."""

    @cached_property
    def count(self) -> Tally:
        return tally(self.object_list)  # type: ignore[arg-type]  # pages of a query, no other list

    @property
    def is_cut(self) -> bool:
        return self.count >= MOST
