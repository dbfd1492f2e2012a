"""Readings of one fork on the scales, what a fit made of them, and whether it is the geometry of that fork."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from workshop.suspension.models import SuspensionUnit


class ForkMeasurement(models.Model):
    """Force and travel of a unit as they were typed, and the fit; rows are added, and only their standing moves on.

    `drawing` are the diameters (m) it was fitted with, `fit` what `specs.physics.measured_fork` said, both as JSON.
    """

    class Means(models.TextChoices):
        SCALES = "scales", "Scales and a rule"
        BENCH = "bench", "A measuring bench"

    unit = models.ForeignKey(SuspensionUnit, on_delete=models.CASCADE, related_name="measurements")
    means = models.CharField(max_length=10, choices=Means.choices)
    made_up = models.BooleanField(default=False)
    lines = models.TextField()
    ambient_pa = models.FloatField()
    drawing = models.JSONField()
    fit = models.JSONField()
    entered_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    entered_at = models.DateTimeField()
    taken_over_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    taken_over_at = models.DateTimeField(null=True, blank=True)
    checked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    checked_at = models.DateTimeField(null=True, blank=True)
    taken_back_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    taken_back_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["unit"],
                condition=Q(taken_over_at__isnull=False, taken_back_at__isnull=True),
                name="one_measured_geometry_a_unit",
            ),
            models.CheckConstraint(
                condition=Q(made_up=False) | Q(taken_over_at__isnull=True), name="made_up_readings_are_no_geometry"
            ),
            models.CheckConstraint(
                condition=Q(checked_by__isnull=True) | Q(entered_by__isnull=True) | ~Q(checked_by=F("entered_by")),
                name="measurement_checked_by_second_person",
            ),
            models.CheckConstraint(
                condition=Q(taken_over_at__isnull=False) | Q(checked_at__isnull=True, taken_back_at__isnull=True),
                name="only_what_was_taken_over_is_checked",
            ),
        ]

    def __str__(self) -> str:
        return f"Readings of {self.unit_id} entered at {self.entered_at:%Y-%m-%d %H:%M}"

    @property
    def is_in_force(self) -> bool:
        """Whether the unit is calculated with it."""
        return self.taken_over_at is not None and self.taken_back_at is None
