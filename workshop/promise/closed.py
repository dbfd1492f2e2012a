"""The days on which the bench rests: its own, and the public holidays of its country. One answer for all who ask."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

import holidays
from django.core.exceptions import ValidationError
from django.db import transaction
from holidays.registry import COUNTRIES

from workshop.promise.models import BenchCapacity, ClosedDay
from workshop.staff.models import Shop
from workshop.web.plausible_days import DayKind, refuse_day
from workshop.web.versions import take_version

YEARS_AHEAD = 3
_SMALL_WORDS = {"and", "of", "the"}


@dataclass(frozen=True)
class DayOff:
    """A day and why; `is_public` is a public holiday, `is_open` one on which the bench works all the same."""

    day: dt.date
    why: str
    is_public: bool = False
    is_open: bool = False


@lru_cache(maxsize=1)
def countries() -> tuple[tuple[str, str], ...]:
    """Codes (ISO 3166-1) and English names of the countries whose public holidays are known, by name."""
    named = ((codes[1], _country_words(module)) for module, codes in COUNTRIES.items())
    return tuple(sorted(named, key=lambda one: one[1]))


@lru_cache(maxsize=64)
def subdivisions(country: str) -> tuple[tuple[str, str], ...]:
    """Codes (ISO 3166-2) and names of the parts of a country whose public holidays differ; none for most."""
    if country not in dict(countries()):
        return ()
    known = holidays.country_holidays(country)
    names = {code: name for name, code in known.subdivisions_aliases.items()}
    return tuple((code, f"{names[code]} ({code})" if code in names else code) for code in known.subdivisions)


@lru_cache(maxsize=256)
def public_holidays(country: str, subdivision: str, year: int) -> Mapping[dt.date, str]:
    """Each public holiday of a year with its name, in English where it is known; none of a country that is not.

    From the library `holidays`; the days on which one that meets a weekend is kept instead are among them.
    """
    try:
        found = holidays.country_holidays(country, subdiv=subdivision or None, years=year, language="en_US")
    except NotImplementedError:  # the library knew it when it was chosen, and does no longer
        return {}
    return {day: str(name) for day, name in sorted(found.items()) if day.year == year}


def days_off(capacity: BenchCapacity, first: dt.date, last: dt.date) -> list[DayOff]:
    """The bench's own closed days and the public holidays from one day to another, both with it; one query."""
    own = list(ClosedDay.objects.filter(shop=capacity.shop_id, day__range=(first, last)))
    struck = {row.day for row in own if row.struck}
    found = {row.day: DayOff(row.day, row.why) for row in own if not row.struck}
    if capacity.holiday_country:
        for year in range(first.year, last.year + 1):
            for day, name in public_holidays(capacity.holiday_country, capacity.holiday_subdivision, year).items():
                if first <= day <= last and day not in found:
                    found[day] = DayOff(day, name, is_public=True, is_open=day in struck)
    return [found[day] for day in sorted(found)]


def closed_days(capacity: BenchCapacity, today: dt.date) -> frozenset[dt.date]:
    """The days from today on, three years ahead, on which the bench rests besides its weekdays; one query."""
    last = today.replace(year=today.year + YEARS_AHEAD, month=12, day=31)
    return frozenset(one.day for one in days_off(capacity, today, last) if not one.is_open)


@transaction.atomic
def set_holidays(*, shop: Shop, seen_version: int, country: str, subdivision: str = "") -> BenchCapacity:
    """Choose whose public holidays the bench keeps; no country for none. Raises StaleVersion, ValidationError."""
    capacity, _ = BenchCapacity.objects.get_or_create(shop=shop, defaults={"version": 0})
    take_version(capacity, seen_version)
    if country and country not in dict(countries()):
        raise ValidationError({"country": "The public holidays of that country are not known. Close its days by hand."})
    if subdivision and subdivision not in dict(subdivisions(country)):
        raise ValidationError({"subdivision": "Choose a part of the country that is chosen."})
    capacity.holiday_country, capacity.holiday_subdivision = country, subdivision
    capacity.save(update_fields=["holiday_country", "holiday_subdivision"])
    return capacity


@transaction.atomic
def holidays_follow(*, shop: Shop, country_before: str) -> bool:
    """Keep the holidays of the shop's country where none were chosen, or those of the country before.

    Raises StaleVersion where somebody chooses them meanwhile.
    """
    capacity = _capacity(shop)
    if capacity.holiday_country not in ("", country_before) or capacity.holiday_country == shop.country:
        return False
    set_holidays(shop=shop, seen_version=capacity.version, country=shop.country)
    return bool(shop.country)


@transaction.atomic
def close_day(*, shop: Shop, day: dt.date, why: str = "") -> None:
    """The bench rests on a day; on a public holiday that was struck it rests again.

    Raises:
        ValidationError: it is closed already, or cannot be meant.
    """
    refuse_day("day", day, DayKind.CLOSED)
    Shop.objects.select_for_update().only("pk").get(pk=shop.pk)  # of two at once the second is told
    was_struck, _ = ClosedDay.objects.filter(shop=shop, day=day, struck=True).delete()
    if any(not one.is_open for one in days_off(_capacity(shop), day, day)):
        if was_struck:
            return
        raise ValidationError({"day": "That day is closed already."})
    closed = ClosedDay(shop=shop, day=day, why=why.strip())
    closed.full_clean(exclude=["shop"])
    closed.save()


@transaction.atomic
def open_day(*, shop: Shop, day: dt.date) -> None:
    """The bench works on a day on which it was closed, a public holiday too. On one that is open nothing changes."""
    Shop.objects.select_for_update().only("pk").get(pk=shop.pk)
    ClosedDay.objects.filter(shop=shop, day=day, struck=False).delete()
    for off in days_off(_capacity(shop), day, day):
        if off.is_public and not off.is_open:
            ClosedDay.objects.create(shop=shop, day=day, why=off.why[:60], struck=True)


def _capacity(shop: Shop) -> BenchCapacity:
    return BenchCapacity.objects.filter(shop=shop).first() or BenchCapacity(shop=shop, version=0)


def _country_words(module: str) -> str:
    words = module.split("_")
    return " ".join(word if word in _SMALL_WORDS and place else word.capitalize() for place, word in enumerate(words))
