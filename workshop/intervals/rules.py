"""Which interval holds for a unit: its own rule, else the model's, always with its source."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from django.db import transaction
from django.utils import timezone

from specs.models import SpecValue
from specs.units import from_si
from workshop.intervals.forecast import Rule
from workshop.intervals.models import Level, UnitRule
from workshop.staff.models import User
from workshop.suspension.models import SuspensionUnit
from workshop.web.versions import StaleVersion

INTERVAL_KEYS: tuple[str, ...] = tuple(
    f"{level}_interval_{measure}" for level in Level.values for measure in ("hours", "months")
)
NO_RULE_YET = 0


def rules_of(own: Iterable[UnitRule], values: Mapping[str, SpecValue]) -> list[Rule]:
    """The rule of each level that has one, from the unit's rows in order and the model's current values."""
    latest = {row.level: row for row in own}
    rules = (_own_rule(latest.get(level)) or _model_rule(level, values) for level in Level.values)
    return [rule for rule in rules if rule is not None]


def newest_rule(unit: SuspensionUnit, level: str) -> UnitRule | None:
    """The unit's latest row for a level, also one that went back to the model's interval."""
    return UnitRule.objects.filter(unit=unit, level=level).order_by("pk").last()


@transaction.atomic
def set_rule(
    *,
    unit: SuspensionUnit,
    level: str,
    hours: float | None,
    months: int | None,
    source: str,
    by: User | None,
    seen_rule: int = NO_RULE_YET,
) -> UnitRule:
    """Give a unit an interval of its own, or with neither figure go back to the model's.

    Args:
        seen_rule: primary key of the rule that was on the screen, NO_RULE_YET for none.

    Raises:
        StaleVersion: somebody set another rule meanwhile.
        ValidationError: a figure is out of bounds, or the source is missing.
    """
    SuspensionUnit.objects.select_for_update().get(pk=unit.pk)
    newest = newest_rule(unit, level)
    if newest is not None and newest.pk != seen_rule:
        raise StaleVersion(newest)
    row = UnitRule(
        unit=unit, level=level, hours=hours, months=months, source=source.strip(), set_by=by, set_at=timezone.now()
    )
    row.full_clean(exclude=["unit", "set_by"])
    row.save()
    return row


def _own_rule(row: UnitRule | None) -> Rule | None:
    if row is None or (row.hours is None and row.months is None):
        return None
    return Rule(row.level, row.hours, row.months, row.source, is_own=True)


def _model_rule(level: str, values: Mapping[str, SpecValue]) -> Rule | None:
    hours, months = values.get(f"{level}_interval_hours"), values.get(f"{level}_interval_months")
    known = [value for value in (hours, months) if value is not None and value.magnitude_si is not None]
    if not known:
        return None
    return Rule(
        level,
        _in(hours, "h"),
        None if months is None else round(_in(months, "months") or 0) or None,
        "; ".join(dict.fromkeys(value.source for value in known)),
        is_checked=all(value.is_checked for value in known),
    )


def _in(value: SpecValue | None, unit: str) -> float | None:
    if value is None or value.magnitude_si is None:
        return None
    return round(from_si(value.magnitude_si, "time", unit), 6)
