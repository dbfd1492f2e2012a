"""The due list as it is kept: a unit is worked out anew where something of it changed, or its day has come."""

from __future__ import annotations

import datetime as dt
import logging
from collections.abc import Collection

from django.db import DatabaseError, transaction
from django.db.models import QuerySet
from django.utils import timezone

from workshop.intervals.forecast import Figures, ServiceStanding, next_change_of
from workshop.intervals.ridden import tells_more_tomorrow
from workshop.intervals.standing import figures_of
from workshop.kept.models import DueUnit, UnitChanged
from workshop.reminders.due import Wanting, turn_of, wanting_of
from workshop.staff.models import Shop
from workshop.suspension.models import SuspensionUnit

Place = DueUnit.Place
AT_ONCE = 1000
_PLACES = {
    ServiceStanding.OVERDUE: Place.OVERDUE,
    ServiceStanding.DUE: Place.DUE,
    ServiceStanding.COMING_UP: Place.COMING_UP,
}
_TOMORROW, _YEAR = dt.timedelta(days=1), dt.timedelta(days=365)
log = logging.getLogger(__name__)


def kept_units(shop: Shop, today: dt.date) -> QuerySet[DueUnit]:
    """The shop's units in the order of the list, those not on it last, as they stand today.

    A database that takes no entries gives what it has, and the log says so.
    """
    try:
        bring_up_to_date(shop, today)
    except DatabaseError:
        log.exception("The due list could not be brought up to date")
    return DueUnit.objects.filter(shop=shop).order_by("place", "turn", "unit")


def bring_every_shop_up_to_date() -> None:
    """So that no page has to wait for it: after a restore, or once all is made anew, every unit wants it."""
    for shop in Shop.objects.all():
        bring_up_to_date(shop, timezone.localdate())


def bring_up_to_date(shop: Shop, today: dt.date) -> int:
    """Work out every unit that wants it, a thousand in each transaction. Returns how many."""
    done = 0
    while count := _some_that_changed(shop, today) or _some_whose_day_has_come(shop, today):
        done += count
    return done


def differing(shop: Shop, today: dt.date) -> int:
    """How many units are kept otherwise than they are worked out; reads all of the shop's."""
    every, figures, found = kept_units(shop, today), figures_of(shop), 0
    pks = list(SuspensionUnit.objects.filter(shop=shop).order_by("pk").values_list("pk", flat=True))
    for start in range(0, len(pks), AT_ONCE):
        some = pks[start : start + AT_ONCE]
        kept = {row.unit_id: row for row in every.filter(pk__in=some)}
        right = {row.unit_id: row for row in _worked_out(shop, some, today, figures)}
        found += sum(pk not in kept or _standing(kept[pk]) != _standing(right[pk]) for pk in some)
    return found


def _standing(row: DueUnit) -> tuple[int, int, bool]:
    return row.place, row.turn, row.may_remind


def _some_that_changed(shop: Shop, today: dt.date) -> int:
    changed = UnitChanged.objects.filter(shop=shop).order_by("pk").values_list("pk", "unit_id")
    if not changed[:1]:
        return 0
    with transaction.atomic():
        found = dict(changed[:AT_ONCE])
        # Taken first: who else takes one of these waits here, and then reads what we read or what came after.
        UnitChanged.objects.filter(pk__in=found).delete()
        units = set(found.values())
        _work_out(shop, units, today)
    return len(units)


def _some_whose_day_has_come(shop: Shop, today: dt.date) -> int:
    """Also those of a day to come: the clock was set back."""
    of_shop = DueUnit.objects.filter(shop=shop)
    for old in (of_shop.filter(look_again_on__lte=today), of_shop.filter(as_of__gt=today)):
        if pks := list(old.values_list("pk", flat=True)[:AT_ONCE]):
            with transaction.atomic():
                _work_out(shop, pks, today)
            return len(pks)
    return 0


def _work_out(shop: Shop, unit_pks: Collection[int], today: dt.date) -> None:
    # One at a time: what was read before another's change is not written after it.
    list(DueUnit.objects.select_for_update().filter(pk__in=unit_pks).order_by("pk").values_list("pk"))
    DueUnit.objects.bulk_create(
        _worked_out(shop, unit_pks, today, figures_of(shop)),
        update_conflicts=True,
        unique_fields=["unit"],
        update_fields=["place", "turn", "may_remind", "as_of", "look_again_on"],
    )


def _worked_out(shop: Shop, unit_pks: Collection[int], today: dt.date, figures: Figures) -> list[DueUnit]:
    on_it = [_due_unit(shop, wanting, today, figures) for wanting in wanting_of(shop, unit_pks, today)]
    others = SuspensionUnit.objects.filter(pk__in=set(unit_pks) - {row.unit_id for row in on_it}).order_by("pk")
    return on_it + [
        DueUnit(unit=unit, shop=shop, place=Place.NOTHING, may_remind=False, as_of=today) for unit in others.only("pk")
    ]


def _due_unit(shop: Shop, wanting: Wanting, today: dt.date, figures: Figures) -> DueUnit:
    open_ones, waiting = wanting.split(today)
    if open_ones:
        place, first = _PLACES[open_ones[0].standing], open_ones[0]
    elif waiting:
        place, first = Place.PUT_OFF, waiting[0][0]
    else:
        place, first = Place.NOTHING, None
    unit = wanting.standing.unit
    return DueUnit(
        unit=unit,
        shop=shop,
        place=place,
        turn=turn_of(first) if first else 0,
        may_remind=unit.customer.agreed_to_reminders,
        as_of=today,
        look_again_on=look_again_on(wanting, today, figures),
    )


def look_again_on(wanting: Wanting, today: dt.date, figures: Figures) -> dt.date | None:
    """The first day on which this unit may stand otherwise, without a new entry; None: never."""
    if not wanting.standing.rules:
        return None
    if tells_more_tomorrow(wanting.standing.history, today):
        return today + _TOMORROW
    if any(forecast.counted_from > today for forecast in wanting.untold):
        return today + _TOMORROW
    days = [next_change_of(forecast, today, figures) for forecast in wanting.untold]
    days += [decision.snoozed_until for decision in wanting.decisions.values()]
    return min(
        (day for day in days if day is not None and day > today), default=today + _YEAR
    )  # riding so little foretells nothing for twenty years
