"""The shop's torque tools, and what each critical bolt of a ticket was tightened to, by whom and with which tool."""

from __future__ import annotations

import uuid
from typing import TYPE_CHECKING

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from diagnosis.layout_plans import BOLTS
from diagnosis.models import Run, Step
from specs.quantities import QUANTITIES
from workshop.staff.models import Shop
from workshop.tickets.models import Ticket

BOLT_LABELS = {bolt: QUANTITIES[quantity].label for bolt, quantity in BOLTS.items()}


class TorqueTool(models.Model):
    """A torque tool by the number written on it: its range in N·m, its class, and how long its calibration holds."""

    class ToolClass(models.TextChoices):
        """Types and classes of ISO 6789; from memory, the tool's certificate goes first."""

        BAR = "I-A", "I A: bar that bends"
        DIAL = "I-B", "I B: wrench with a dial"
        ELECTRONIC = "I-C", "I C: electronic wrench"
        ELECTRONIC_DRIVER = "I-E", "I E: electronic screwdriver"
        SETTING = "II-A", "II A: setting wrench with a scale"
        FIXED = "II-B", "II B: setting wrench, fixed"
        SETTING_DRIVER = "II-D", "II D: setting screwdriver with a scale"
        FIXED_DRIVER = "II-E", "II E: setting screwdriver, fixed"

    class OutsideBy(models.TextChoices):
        """What found the tool outside its class last; empty where nothing did."""

        CALIBRATION = "calibration", "last calibration"
        CHECK = "check", "last check"

    shop = models.ForeignKey(Shop, on_delete=models.PROTECT, related_name="torque_tools")
    number = models.CharField(max_length=30, help_text="As written on the tool.")
    name = models.CharField(max_length=80)
    low_nm = models.FloatField()
    high_nm = models.FloatField()
    tool_class = models.CharField(max_length=5, choices=ToolClass.choices, default=ToolClass.SETTING)
    calibrated_on = models.DateField(null=True, blank=True)
    calibrated_until = models.DateField(null=True, blank=True)
    outside_by = models.CharField(max_length=11, choices=OutsideBy.choices, blank=True, default="")
    retired = models.BooleanField(default=False)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["retired", "number"]
        constraints = [
            models.UniqueConstraint(
                fields=["shop", "number"],
                name="torque_tool_number_once_in_a_shop",
                violation_error_message="The shop has a torque tool of that number already.",
            ),
            models.CheckConstraint(
                condition=Q(low_nm__gt=0) & Q(high_nm__gt=F("low_nm")), name="torque_tool_range_in_order"
            ),
            models.CheckConstraint(
                condition=Q(calibrated_until__isnull=True)
                | Q(calibrated_on__isnull=True)
                | Q(calibrated_until__gte=F("calibrated_on")),
                name="calibration_ends_after_it_began",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.number} {self.name}"


class BoltRecord(models.Model):
    """That a safety-critical bolt was tightened. Rows are added, never edited: the latest of a bolt counts.

    `wanted_nm` and `marks` are what held when it was recorded, whatever the spec or the tool's calibration say later.
    `client_id` is made on the tablet, so that a repeat is harmless.
    """

    ticket = models.ForeignKey(Ticket, on_delete=models.CASCADE, related_name="bolt_records")
    run = models.ForeignKey(Run, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    step = models.ForeignKey(Step, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    bolt = models.CharField(max_length=20, choices=list(BOLT_LABELS.items()))
    torque_nm = models.FloatField(help_text="As set, in N·m.")
    typed = models.CharField(max_length=40)
    wanted_nm = models.FloatField(null=True, blank=True)
    wanted_tolerance_nm = models.FloatField(null=True, blank=True)
    tool = models.ForeignKey(TorqueTool, on_delete=models.PROTECT, null=True, blank=True, related_name="bolt_records")
    marks = models.JSONField(default=list, blank=True, help_text="What is doubtful about it, in sentences.")
    needs_second = models.BooleanField(
        default=False,
        help_text="Its tool was outside its range, class or calibration: it counts after a second-person check.",
    )
    client_id = models.UUIDField(unique=True, default=uuid.uuid4)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    countersigned_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    countersigned_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=Q(torque_nm__gt=0), name="bolt_torque_above_zero"),
            models.CheckConstraint(
                condition=Q(countersigned_by__isnull=True) | ~Q(countersigned_by=F("by")),
                name="bolt_countersigned_by_second_person",
            ),
            models.CheckConstraint(
                condition=Q(countersigned_by__isnull=True, countersigned_at__isnull=True)
                | Q(countersigned_by__isnull=False, countersigned_at__isnull=False),
                name="bolt_countersigned_says_when",
            ),
            models.CheckConstraint(
                condition=(Q(wanted_nm__isnull=True) | Q(wanted_nm__gt=0))
                & (Q(wanted_tolerance_nm__isnull=True) | Q(wanted_tolerance_nm__gte=0)),
                name="bolt_wanted_torque_above_zero",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_bolt_display()}: {self.typed}, {self.ticket}"

    @property
    def waits_for_second(self) -> bool:
        """Whether it is no record yet: a second person has to confirm what was done with a doubtful tool."""
        return self.needs_second and self.countersigned_by_id is None

    if TYPE_CHECKING:
        countersigned_by_id: int | None
