"""A row of each record that a shop can hold and `full_shop` leaves out, so that a neighbour has one of everything.

Its texts carry the shop's mark, its links go to rows of the same shop, the rest is whatever its column takes.
"""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django.db import models
from django.utils import timezone

from tests.full_shop import FullShop

# What the database asks of a row beyond its columns; the day of a plain row is one that no other has.
_DAY = dt.date(2031, 5, 6)
_BESIDE: dict[str, dict[str, Any]] = {
    "Contact": {"outcome": ""},
    "FindingAnswer": {"how": "left"},
    "StateMove": {"waiting_for": ""},
    "Visit": {"came_carrier": "", "came_number": "", "goes_carrier": "", "goes_number": ""},
}
_LINKED_TOO = {"FindingAnswer": {"free"}}  # links that may be left out, and of which it needs one


def add_what_it_lacks(shop: FullShop, ways: Mapping[type[models.Model], str]) -> list[str]:
    """Add the rows, and say of which records.

    Args:
        ways: each record of a shop, and how it leads to the shop.
    """
    added = []
    for model, way in sorted(ways.items(), key=lambda one: one[1].count("__")):  # what others hang on first
        if not model._default_manager.filter(**{way: shop.shop}).exists():
            values = {field.name: _value(field, shop, ways) for field in _asked(model)}
            model._default_manager.create(**values | _BESIDE.get(model.__name__, {}))
            added.append(model.__name__)
    return added


def _asked(model: type[models.Model]) -> list[Any]:
    """Its columns that take a value of ours, but for what the database makes itself."""
    return [
        field
        for field in model._meta.concrete_fields
        if not getattr(field, "generated", False)
        and not isinstance(field, models.AutoField)
        and (
            isinstance(field, models.CharField | models.TextField)
            or not (field.has_default() or field.null)
            or field.name in _LINKED_TOO.get(model.__name__, ())
        )
    ]


def _value(field: Any, shop: FullShop, ways: Mapping[type[models.Model], str]) -> Any:
    if field.is_relation:
        related = field.related_model
        if related is type(shop.shop):
            return shop.shop
        rows = related._default_manager.all()
        return (rows.filter(**{ways[related]: shop.shop}) if related in ways else rows).order_by("pk").first()
    if field.choices:
        return field.choices[0][0]
    if isinstance(field, models.CharField | models.TextField):
        return shop.mark[: field.max_length] if not field.has_default() or field.default == "" else field.get_default()
    plain: dict[type[Any], Any] = {
        models.DateTimeField: timezone.now(),
        models.DateField: _DAY,
        models.TimeField: dt.time(9),
        models.DecimalField: Decimal(1),
        models.FloatField: 1.0,
        models.BooleanField: False,
        models.UUIDField: uuid.uuid4(),
        models.JSONField: {},
        models.BinaryField: b"1",
        models.IntegerField: 1,
    }
    return next((value for kind, value in plain.items() if isinstance(field, kind)), None)
