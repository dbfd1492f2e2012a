"""What the pages of a stock-take show."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from types import MappingProxyType
from typing import Any

from django.core.paginator import Paginator
from django.db.models import Count, DecimalField, F, Max, Sum, Value
from django.db.models.functions import Coalesce, Substr, Upper
from django.http import QueryDict
from django.utils import timezone

from workshop.staff.models import Shop
from workshop.stock.count_standing import Standing, Stands
from workshop.stock.models import StockItem, StockMovement
from workshop.stock.shelf_order import natural_key
from workshop.stock.stock_list import in_that_order
from workshop.stock.stock_take_models import StockTake
from workshop.stock.stock_taking import differences_of, sheet_order, standings_of_take
from workshop.web.days import start_of

ROWS_A_PAGE = 50
ENDED_SHOWN = 20
USE_DAYS = 90
_NEVER_DAYS = 3 * 365  # how long ago a shelf that was never counted counts as
_MONEY = DecimalField(max_digits=14, decimal_places=4)


@dataclass(frozen=True)
class ShelfToCount:
    """Shelves with one first letter: what lies there, what went out lately, and when it was last counted."""

    place: str
    parts: int
    worth: Decimal
    used: int
    counted_at: dt.datetime | None
    urgency: Decimal


def takes_of(shop: Shop) -> dict[str, Any]:
    """The stock-takes that go on, those that ended lately, and which shelves are worth counting next."""
    takes = StockTake.objects.filter(shop=shop).select_related("started_by", "ended_by")
    counting = StockTake.State.COUNTING
    ended = list(takes.exclude(state=counting)[:ENDED_SHOWN])
    return {
        "open_takes": takes.filter(state=counting).annotate(counted=Count("counts__item", distinct=True)),
        "ended": ended,
        "shelves": shelves_to_count(shop),
        "use_days": USE_DAYS,
    }


def shelves_to_count(shop: Shop) -> list[ShelfToCount]:
    """By the first letter of the place, the most worth counting first; three queries however many parts.

    What is most worth counting is common practice, no published source: what the shelf holds in money, more where
    much is taken, times the days since it was counted.
    """
    items = StockItem.objects.filter(shop=shop).exclude(shelf="").annotate(place=Upper(Substr("shelf", 1, 1)))
    each = Coalesce(F("cost"), F("price"))
    held = Coalesce(F("kept_level__level"), Value(Decimal(0)), output_field=_MONEY)
    places = items.order_by().values("place").annotate(parts=Count("pk"), worth=Sum(held * each, output_field=_MONEY))
    since = start_of(timezone.localdate() - dt.timedelta(days=USE_DAYS))
    used = dict(
        StockMovement.objects.filter(item__shop=shop, kind=StockMovement.Kind.USED, at__gte=since)
        .exclude(item__shelf="")
        .order_by()
        .values_list(Upper(Substr("item__shelf", 1, 1)))
        .annotate(Count("pk"))
    )
    booked = StockTake.objects.filter(shop=shop, state=StockTake.State.BOOKED, shelf__regex="^.?$")
    counted = dict(booked.order_by().values_list("shelf").annotate(Max("ended_at")))
    found = [
        _to_count(row["place"], row["parts"], row["worth"] or Decimal(0), used.get(row["place"], 0), counted)
        for row in places
    ]
    return sorted(found, key=lambda one: (-one.urgency, natural_key(one.place)))


def sheet_of(
    take: StockTake,
    asked: QueryDict,
    *,
    person: int | None,
    typed: QueryDict | None = None,
    refused: Mapping[int, str] = MappingProxyType({}),
) -> dict[str, Any]:
    """One page of the sheet, along the shelves; `?left=1` leaves out what needs no more counting by this person.

    A page that is sent back has the rows it had, so that nothing typed is lost.
    """
    standings = standings_of_take(take)
    only_left = asked.get("left") == "1"
    pks = sheet_order(take)
    settled = sum(1 for pk in pks if standings.get(pk, _NOT_YET).stands is Stands.SETTLED)
    shown = [pk for pk in pks if not (only_left and _is_done(standings.get(pk), person))]
    if typed is not None:
        sent = {name.removeprefix("seen-") for name in typed if name.startswith("seen-")}
        shown = [pk for pk in pks if str(pk) in sent]
        page = Paginator(shown, max(len(shown), 1)).get_page(1)
    else:
        page = Paginator(shown, ROWS_A_PAGE).get_page(asked.get("page"))
    rows = [
        {
            "item": item,
            "name": f"counted-{item.pk}",
            "label": item.part.description,
            "value": typed.get(f"counted-{item.pk}", "") if typed is not None else "",
            "error": refused.get(item.pk, ""),
            "standing": standings.get(item.pk),
        }
        for item in in_that_order(list(page.object_list))
    ]
    return {
        "take": take,
        "page": page,
        "rows": rows,
        "only_left": only_left,
        "in_all": len(pks),
        "settled": settled,
        "not_counted": len(pks) - settled,
    }


def outcome_of_take(take: StockTake, *, ticked: QueryDict | None = None) -> dict[str, Any]:
    """What a stock-take found: the differences with their worth, and how much of the sheet is still open."""
    standings = standings_of_take(take)
    differences = differences_of(take, standings)
    pks = sheet_order(take) if take.is_open else []
    stands = [standings.get(pk, _NOT_YET).stands for pk in pks]
    return {
        "take": take,
        "rows": [
            {
                "one": one,
                "name": f"sure-{one.item.pk}",
                "value": f"{one.count.counted:f}",
                "ticked": ticked is not None and ticked.get(f"sure-{one.item.pk}") == f"{one.count.counted:f}",
            }
            for one in differences
        ],
        "counted": len(standings),
        "not_counted": stands.count(Stands.NOT_COUNTED),
        "second": stands.count(Stands.SECOND),
        "disagree": stands.count(Stands.DISAGREE),
        "worth": sum((one.worth for one in differences), Decimal(0)),
        "some_by_price": any(one.by_price for one in differences),
    }


def _to_count(
    place: str, parts: int, worth: Decimal, used: int, counted: Mapping[str, dt.datetime | None]
) -> ShelfToCount:
    at = max((one for one in (counted.get(""), counted.get(place)) if one is not None), default=None)
    days = _NEVER_DAYS if at is None else max((timezone.now() - at).days, 0)
    return ShelfToCount(place, parts, worth, used, at, worth * (1 + used) * days)


def _is_done(standing: Standing | None, person: int | None) -> bool:
    """Settled, or waiting for somebody else's count."""
    if standing is None or standing.count is None:
        return False
    return standing.stands is Stands.SETTLED or (standing.stands is Stands.SECOND and standing.count.by == person)


_NOT_YET = Standing(Stands.NOT_COUNTED)
