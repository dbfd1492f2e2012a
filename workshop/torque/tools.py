"""The shop's torque tools: registering, changing and retiring them, and what is doubtful about one."""

from __future__ import annotations

import datetime as dt

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import QuerySet
from django.utils.formats import date_format

from specs.physics.torque import TOOL_DEVIATION, tool_deviation
from specs.units import show
from workshop.staff.models import Shop
from workshop.torque.models import TorqueTool
from workshop.web.plausible_days import DayKind, refuse_day
from workshop.web.versions import take_version

ToolClass = TorqueTool.ToolClass
# ISO 6789 allows bars and screwdrivers ±6 % over their whole range; from memory, the certificate goes first.
_COARSE = frozenset({ToolClass.BAR, ToolClass.ELECTRONIC_DRIVER, ToolClass.SETTING_DRIVER, ToolClass.FIXED_DRIVER})
COARSE_DEVIATION = 0.06
# ISO 6789 states the deviation from this share of the greatest torque upward; from memory.
LOWEST_SHARE = 0.2


def tools_of(shop: Shop, *, with_retired: bool = False) -> QuerySet[TorqueTool]:
    """The shop's tools by number, retired ones last or left out."""
    tools = TorqueTool.objects.filter(shop=shop)
    return tools if with_retired else tools.filter(retired=False)


def tool_of(shop: Shop, pk: int | None) -> TorqueTool | None:
    """The shop's tool of that key; None for none, or for one that is another shop's."""
    return None if pk is None else TorqueTool.objects.filter(shop=shop, pk=pk).first()


@transaction.atomic
def register_tool(
    *,
    shop: Shop,
    number: str,
    name: str,
    low_nm: float,
    high_nm: float,
    tool_class: str,
    calibrated_on: dt.date | None = None,
    calibrated_until: dt.date | None = None,
) -> TorqueTool:
    """Enter a tool. Raises ValidationError for a number taken, a range or dates out of order."""
    return _fill(TorqueTool(shop=shop), number, name, low_nm, high_nm, tool_class, calibrated_on, calibrated_until)


@transaction.atomic
def change_tool(
    *,
    tool: TorqueTool,
    seen_version: int,
    number: str,
    name: str,
    low_nm: float,
    high_nm: float,
    tool_class: str,
    calibrated_on: dt.date | None = None,
    calibrated_until: dt.date | None = None,
) -> TorqueTool:
    """Replace what is known of a tool; records made with it keep their marks. Raises StaleVersion, ValidationError."""
    take_version(tool, seen_version)
    return _fill(tool, number, name, low_nm, high_nm, tool_class, calibrated_on, calibrated_until)


@transaction.atomic
def set_retired(*, tool: TorqueTool, seen_version: int, retired: bool) -> TorqueTool:
    """Take a tool out of use, or back into it. It stays on the records it was used for. Raises StaleVersion."""
    take_version(tool, seen_version)
    tool.retired = retired
    tool.save(update_fields=["retired"])
    return tool


def deviation_of(tool: TorqueTool) -> float:
    """Share by which a tool of its class may be off."""
    return COARSE_DEVIATION if tool.tool_class in _COARSE else tool_deviation(tool.high_nm)


def calibration_mark(tool: TorqueTool, today: dt.date) -> str:
    """Why the tool's calibration cannot be relied on that day; empty where it can."""
    if tool.calibrated_until is None:
        return f"{tool.number} has no calibration on record."
    if tool.calibrated_until < today:
        return f"The calibration of {tool.number} ran out on {date_format(tool.calibrated_until, 'j M Y')}."
    return ""


def outside_mark(tool: TorqueTool) -> str:
    """That the last calibration or check found the tool outside its class; empty where none did."""
    if not tool.outside_by:
        return ""
    return f"The {TorqueTool.OutsideBy(tool.outside_by).label} of {tool.number} was outside its class."


def range_mark(tool: TorqueTool, torque_nm: float, unit: str) -> str:
    """Why the tool does not suit a torque; empty where it does. `unit` is what the shop reads torques in."""
    asked, low, high = (show(value, "torque", unit) for value in (torque_nm, tool.low_nm, tool.high_nm))
    if not tool.low_nm <= torque_nm <= tool.high_nm:
        return f"{asked} is outside the range of {tool.number}, {low} to {high}."
    if torque_nm < LOWEST_SHARE * tool.high_nm:
        return f"{asked} is in the lowest fifth of {tool.number}, where its class does not hold."
    return ""


def allowance_nm(wanted_nm: float, tolerance_nm: float | None, tool: TorqueTool | None) -> float:
    """How far a torque may be from the wanted one: the maker's tolerance, else what the tool's class leaves."""
    if tolerance_nm is not None:
        return tolerance_nm
    return wanted_nm * (TOOL_DEVIATION if tool is None else deviation_of(tool))


def _fill(
    tool: TorqueTool,
    number: str,
    name: str,
    low_nm: float,
    high_nm: float,
    tool_class: str,
    calibrated_on: dt.date | None,
    calibrated_until: dt.date | None,
) -> TorqueTool:
    if high_nm <= low_nm:
        raise ValidationError({"high_nm": "The range ends below where it begins."})
    if calibrated_on is not None and calibrated_until is not None and calibrated_until < calibrated_on:
        raise ValidationError({"calibrated_until": "The calibration cannot end before it was made."})
    if calibrated_on is not None:
        refuse_day("calibrated_on", calibrated_on, DayKind.HAPPENED, kept=tool.calibrated_on)
    if calibrated_until is not None:
        refuse_day("calibrated_until", calibrated_until, DayKind.HOLDS_UNTIL, kept=tool.calibrated_until)
    tool.number, tool.name, tool.low_nm, tool.high_nm = number.strip(), name.strip(), low_nm, high_nm
    tool.tool_class, tool.calibrated_on, tool.calibrated_until = tool_class, calibrated_on, calibrated_until
    if TorqueTool.objects.filter(shop=tool.shop, number=tool.number).exclude(pk=tool.pk).exists():
        raise ValidationError({"number": "The shop has a torque tool of that number already."})
    tool.full_clean()
    tool.save()
    return tool
