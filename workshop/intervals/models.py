"""When a unit is due: its own rules, the hours it was ridden, and the services it had."""

from __future__ import annotations

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils.translation import gettext_lazy

from specs.models import ServiceKit
from workshop.staff.models import Shop
from workshop.suspension.models import SuspensionUnit
from workshop.tickets.models import Ticket

Level = ServiceKit.Level

LEVEL_CHOICES = Level.choices


class IntervalPolicy(models.Model):
    """The owner's figures for every forecast of the shop. They are the shop's own, no published source."""

    shop = models.OneToOneField(Shop, on_delete=models.CASCADE, related_name="interval_policy")
    wet_factor = models.FloatField(default=0.75, validators=[MinValueValidator(0.2), MaxValueValidator(1.0)])
    dusty_factor = models.FloatField(default=0.75, validators=[MinValueValidator(0.2), MaxValueValidator(1.0)])
    said_hours_spread = models.FloatField(
        default=0.25,
        validators=[MinValueValidator(0.0), MaxValueValidator(0.8)],
        help_text="How far off a weekly figure may be, as a fraction; it makes the range of a forecast.",
    )
    coming_up_days = models.PositiveSmallIntegerField(
        default=42, validators=[MinValueValidator(1), MaxValueValidator(365)]
    )
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(wet_factor__gte=0.2, wet_factor__lte=1, dusty_factor__gte=0.2, dusty_factor__lte=1),
                name="riding_factors_shorten",
            ),
            models.CheckConstraint(
                condition=models.Q(said_hours_spread__gte=0, said_hours_spread__lte=0.8), name="spread_is_a_fraction"
            ),
            models.CheckConstraint(
                condition=models.Q(coming_up_days__gte=1, coming_up_days__lte=365),
                name="coming_up_within_a_year",
                violation_error_message="Enter from 1 to 365 days.",
            ),
        ]

    def __str__(self) -> str:
        return f"Forecast settings, {self.shop}"


class UnitRule(models.Model):
    """A unit's own interval for one level. Rows are added, never edited; the latest of a level counts.

    A row with neither hours nor months goes back to the model's interval.
    """

    unit = models.ForeignKey(SuspensionUnit, on_delete=models.CASCADE, related_name="rules")
    level = models.CharField(max_length=10, choices=LEVEL_CHOICES)
    hours = models.FloatField(null=True, blank=True, validators=[MinValueValidator(1), MaxValueValidator(2000)])
    months = models.PositiveSmallIntegerField(
        null=True, blank=True, validators=[MinValueValidator(1), MaxValueValidator(120)]
    )
    source = models.CharField(max_length=160, help_text="Where the figure is from.")
    set_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    set_at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(hours__isnull=True) | models.Q(hours__gt=0), name="rule_hours_positive"
            ),
            models.CheckConstraint(
                condition=models.Q(months__isnull=True) | models.Q(months__gt=0), name="rule_months_positive"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_level_display()} of {self.unit}: {self.source}"


class WeeklyHours(models.Model):
    """What somebody said of the riding from a day on: hours a week, and what it is like. A later day replaces it."""

    class Conditions(models.TextChoices):
        DRY = "dry", gettext_lazy("mostly dry and clean")
        WET = "wet", gettext_lazy("often wet or muddy")
        DUSTY = "dusty", gettext_lazy("often dusty")

    unit = models.ForeignKey(SuspensionUnit, on_delete=models.CASCADE, related_name="weekly_hours")
    hours_per_week = models.FloatField(validators=[MinValueValidator(0), MaxValueValidator(80)])
    conditions = models.CharField(max_length=10, choices=Conditions.choices, default=Conditions.DRY)
    since = models.DateField()
    said_by_customer = models.BooleanField(default=True, help_text="False: the shop’s own estimate.")
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["since", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(hours_per_week__gte=0, hours_per_week__lte=80), name="weekly_hours_fit_a_week"
            )
        ]

    def __str__(self) -> str:
        return f"{self.hours_per_week:g} h a week since {self.since}"


class Ride(models.Model):
    """A ride read from a GPX track: when it began, and how long it moved. The track itself is not kept."""

    unit = models.ForeignKey(SuspensionUnit, on_delete=models.CASCADE, related_name="rides")
    began_at = models.DateTimeField()
    ended_at = models.DateTimeField()
    moving_s = models.FloatField(help_text="Moving time in seconds.")
    digest = models.CharField(
        max_length=64, help_text="SHA-256 of the times of its points: a ride sent twice counts once."
    )
    sent_by_customer = models.BooleanField(default=False)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["began_at", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["unit", "digest"], name="ride_counted_once"),
            models.CheckConstraint(condition=models.Q(moving_s__gte=0), name="ride_moves_forward"),
            models.CheckConstraint(
                condition=models.Q(ended_at__gte=models.F("began_at")), name="ride_ends_after_start"
            ),
        ]

    def __str__(self) -> str:
        return f"Ride of {self.began_at:%Y-%m-%d}, {self.hours:.1f} h"

    @property
    def hours(self) -> float:
        return self.moving_s / 3600


class CounterReading(models.Model):
    """What the rider's own counter of hours showed on a day. Between two readings their difference counts."""

    unit = models.ForeignKey(SuspensionUnit, on_delete=models.CASCADE, related_name="counter_readings")
    on = models.DateField()
    counter_hours = models.FloatField(validators=[MinValueValidator(0), MaxValueValidator(100_000)])
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["on", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["unit", "on"], name="one_counter_reading_a_day"),
            models.CheckConstraint(condition=models.Q(counter_hours__gte=0), name="counter_not_negative"),
        ]

    def __str__(self) -> str:
        return f"{self.counter_hours:g} h on {self.on}"


class ServiceDone(models.Model):
    """That a unit had a service of a level: here, on a ticket, or elsewhere before."""

    unit = models.ForeignKey(SuspensionUnit, on_delete=models.CASCADE, related_name="services_done")
    level = models.CharField(max_length=10, choices=LEVEL_CHOICES)
    on = models.DateField()
    ticket = models.ForeignKey(Ticket, on_delete=models.CASCADE, null=True, blank=True, related_name="services_done")
    told_by = models.CharField(max_length=160, help_text="How we know: the checklist, the counter, the customer.")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["-on", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["ticket", "level"], condition=models.Q(ticket__isnull=False), name="service_once_on_a_ticket"
            ),
            models.UniqueConstraint(
                fields=["unit", "level", "on"],
                condition=models.Q(ticket__isnull=True),
                name="service_elsewhere_once_a_day",
            ),
        ]
        indexes = [
            models.Index(fields=["unit", "-on"], name="service_done_latest"),
            models.Index(fields=["on"], name="service_done_days"),
        ]

    def __str__(self) -> str:
        return f"{self.get_level_display()} of {self.unit} on {self.on}"
