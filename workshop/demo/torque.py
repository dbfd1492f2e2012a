"""Torque tools of the demo shop, one of them overdue, so that its mark can be seen. All invented."""

from __future__ import annotations

import datetime as dt

from django.utils import timezone

from workshop.staff.models import Shop
from workshop.torque.models import TorqueTool
from workshop.torque.tools import register_tool

# Number, name, range in N·m, class, days since its calibration.
_TOOLS = (
    ("TW-1", "Small click wrench (demo)", 2.0, 15.0, TorqueTool.ToolClass.SETTING, 90),
    ("TW-2", "Large click wrench (demo)", 10.0, 60.0, TorqueTool.ToolClass.SETTING, 200),
    ("TS-1", "Torque screwdriver (demo)", 1.0, 8.0, TorqueTool.ToolClass.SETTING_DRIVER, 420),
)


def make_torque_tools(*, shop: Shop) -> None:
    """Three tools; a calibration is taken to hold twelve months (from memory, the certificate goes first)."""
    today = timezone.localdate()
    for number, name, low_nm, high_nm, tool_class, days_ago in _TOOLS:
        calibrated_on = today - dt.timedelta(days=days_ago)
        register_tool(
            shop=shop,
            number=number,
            name=name,
            low_nm=low_nm,
            high_nm=high_nm,
            tool_class=tool_class,
            calibrated_on=calibrated_on,
            calibrated_until=calibrated_on + dt.timedelta(days=365),
        )
