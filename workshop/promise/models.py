"""What the bench can do in a day, as the owner set it."""

from __future__ import annotations

from decimal import Decimal

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from workshop.staff.models import Shop
from workshop.tickets.models import Ticket

WEEKDAYS = tuple(enumerate(("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")))


def weekend() -> list[int]:
    return [5, 6]


class BenchCapacity(models.Model):
    """Mechanics, their hours at the bench, and the days it rests. Without a row: one mechanic, six hours."""

    shop = models.OneToOneField(Shop, on_delete=models.CASCADE, related_name="bench_capacity")
    mechanics = models.PositiveSmallIntegerField(
        default=1, validators=[MinValueValidator(1, "At least one mechanic works at the bench."), MaxValueValidator(50)]
    )
    hours_a_day = models.DecimalField(
        max_digits=4,
        decimal_places=2,
        default=Decimal(6),
        validators=[
            MinValueValidator(Decimal("0.25"), "Enter the hours of a day, from 0.25 to 24."),
            MaxValueValidator(24, "Enter the hours of a day, from 0.25 to 24."),
        ],
        help_text="Of one mechanic, at the bench.",
    )
    closed_weekdays = models.JSONField(default=weekend, blank=True)
    usual_minutes = models.PositiveSmallIntegerField(
        default=90, validators=[MinValueValidator(1)], help_text="For a ticket that no checklist tells the minutes of."
    )
    unknown_lead_days = models.PositiveSmallIntegerField(
        default=7, validators=[MaxValueValidator(365)], help_text="For a part whose days to deliver nobody entered."
    )
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(mechanics__gte=1, hours_a_day__gt=0, hours_a_day__lte=24), name="bench_works_some_hours"
            ),
            models.CheckConstraint(
                condition=Q(mechanics__lte=50, usual_minutes__gte=1, unknown_lead_days__lte=365),
                name="bench_reckons_within_reason",
                violation_error_message=(
                    "Enter 50 mechanics at most, a minute at least for a ticket, and 365 days at most for a part."
                ),
            ),
        ]

    def __str__(self) -> str:
        return f"Bench of {self.shop}"


class ClosedDay(models.Model):
    """A day on which the bench rests besides its weekdays, such as a holiday."""

    shop = models.ForeignKey(Shop, on_delete=models.CASCADE, related_name="closed_days")
    day = models.DateField()
    why = models.CharField(max_length=60, blank=True)

    class Meta:
        ordering = ["day"]
        constraints = [models.UniqueConstraint(fields=["shop", "day"], name="day_closed_once")]

    def __str__(self) -> str:
        return f"{self.day:%d %b %Y} {self.why}".strip()


class PromiseHeard(models.Model):
    """What was said at the counter about the earliest honest day when a ticket was booked in; it is not changed."""

    ticket = models.OneToOneField(Ticket, on_delete=models.CASCADE, related_name="promise_heard")
    earliest_on = models.DateField()
    reasons = models.JSONField(default=list, blank=True, help_text="Sentences, as the booking showed them.")
    at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.ticket}: {self.earliest_on:%d %b %Y} was the earliest"
