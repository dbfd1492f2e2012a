"""The settings and the condition of a unit as it arrived and as it is handed back."""

from __future__ import annotations

from django.conf import settings
from django.core.validators import MinValueValidator
from django.db import models

from workshop.tickets.models.removable import Removable, StillThere
from workshop.tickets.models.ticket import Ticket

_NOT_NEGATIVE = MinValueValidator(0, "This cannot be below zero.")


class SettingsRecord(models.Model):
    """Settings of a unit: pressure and lengths in SI, clicks counted from fully closed.

    What was not read is empty. There is one record for arrival and one for hand-back.
    """

    class Moment(models.TextChoices):
        ARRIVAL = "arrival", "On arrival"
        HAND_BACK = "hand_back", "At hand-back"

    ticket = models.ForeignKey(Ticket, on_delete=models.CASCADE, related_name="settings_records")
    moment = models.CharField(max_length=10, choices=Moment.choices)
    pressure_pa = models.FloatField(null=True, blank=True, validators=[_NOT_NEGATIVE])
    sag_m = models.FloatField(null=True, blank=True, validators=[_NOT_NEGATIVE])
    rest_travel_m = models.FloatField(
        null=True, blank=True, validators=[_NOT_NEGATIVE], help_text="How far in it rests with no load."
    )
    rebound_clicks = models.PositiveSmallIntegerField(null=True, blank=True)
    compression_clicks = models.PositiveSmallIntegerField(null=True, blank=True)
    high_compression_clicks = models.PositiveSmallIntegerField(null=True, blank=True)
    spacers = models.PositiveSmallIntegerField(null=True, blank=True)
    remarks = models.CharField(max_length=200, blank=True)
    version = models.PositiveIntegerField(default=1)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["ticket", "moment"]
        constraints = [
            models.UniqueConstraint(fields=["ticket", "moment"], name="one_settings_record_per_moment"),
            models.CheckConstraint(
                condition=(models.Q(pressure_pa__isnull=True) | models.Q(pressure_pa__gte=0))
                & (models.Q(sag_m__isnull=True) | models.Q(sag_m__gte=0))
                & (models.Q(rest_travel_m__isnull=True) | models.Q(rest_travel_m__gte=0)),
                name="settings_not_below_zero",
                violation_error_message="Pressure, sag and how far in it rests cannot be below zero.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_moment_display()}, {self.ticket}"


class ConditionNote(Removable):
    """A mark or damage seen on the unit, and where.

    `ConditionNote.objects` and `ticket.condition_notes` leave out what was removed; `with_removed` has all.
    """

    ticket = models.ForeignKey(Ticket, on_delete=models.CASCADE, related_name="condition_notes")
    place = models.CharField(max_length=80)
    text = models.CharField(max_length=300)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()

    objects = StillThere["ConditionNote"]()
    with_removed = models.Manager["ConditionNote"]()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(removed_by__isnull=True) | models.Q(removed_at__isnull=False),
                name="removed_mark_says_when",
            )
        ]

    def __str__(self) -> str:
        return f"{self.place}: {self.text}"
