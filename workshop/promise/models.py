"""What the bench can do in a day, as the owner set it."""

from __future__ import annotations

from decimal import Decimal

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from workshop.staff.models import Shop, User
from workshop.tickets.models import Ticket

WEEKDAYS = tuple(enumerate(("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")))


DAY_FIELDS = tuple(name.lower() for _, name in WEEKDAYS)
WITHIN_A_DAY = "Enter hours from 0 to 24."
HOURS = [MinValueValidator(0, WITHIN_A_DAY), MaxValueValidator(24, WITHIN_A_DAY)]


def _each_within_a_day() -> Q:
    within = Q()
    for name in DAY_FIELDS:
        within &= Q(**{f"{name}__gte": 0, f"{name}__lte": 24})
    return within


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
    holiday_country = models.CharField(max_length=3, blank=True, default="")
    holiday_subdivision = models.CharField(max_length=40, blank=True, default="")
    has_calendars = models.BooleanField(
        default=False, help_text="Somebody’s week is on record; without it no page asks for weeks."
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
            models.CheckConstraint(
                condition=Q(holiday_subdivision="") | ~Q(holiday_country=""),
                name="holiday_subdivision_of_a_country",
                violation_error_message="Choose the country of that part first.",
            ),
        ]

    def __str__(self) -> str:
        return f"Bench of {self.shop}"


class ClosedDay(models.Model):
    """A day on which the bench rests besides its weekdays; with `struck` a public holiday on which it works."""

    shop = models.ForeignKey(Shop, on_delete=models.CASCADE, related_name="closed_days")
    day = models.DateField()
    why = models.CharField(max_length=60, blank=True)
    struck = models.BooleanField(default=False)

    class Meta:
        ordering = ["day"]
        constraints = [models.UniqueConstraint(fields=["shop", "day"], name="day_closed_once")]

    def __str__(self) -> str:
        return f"{self.day:%-d %b %Y} {self.why}".strip()


class MechanicWeek(models.Model):
    """Hours of one mechanic at the bench by weekday. Without a row he works the hours of the bench."""

    mechanic = models.OneToOneField(User, on_delete=models.CASCADE, related_name="bench_week")
    monday = models.DecimalField(max_digits=4, decimal_places=2, default=0, validators=HOURS)
    tuesday = models.DecimalField(max_digits=4, decimal_places=2, default=0, validators=HOURS)
    wednesday = models.DecimalField(max_digits=4, decimal_places=2, default=0, validators=HOURS)
    thursday = models.DecimalField(max_digits=4, decimal_places=2, default=0, validators=HOURS)
    friday = models.DecimalField(max_digits=4, decimal_places=2, default=0, validators=HOURS)
    saturday = models.DecimalField(max_digits=4, decimal_places=2, default=0, validators=HOURS)
    sunday = models.DecimalField(max_digits=4, decimal_places=2, default=0, validators=HOURS)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=_each_within_a_day(),
                name="mechanic_works_within_a_day",
                violation_error_message=WITHIN_A_DAY,
            ),
        ]

    def __str__(self) -> str:
        return f"Week of {self.mechanic}"

    @property
    def hours(self) -> tuple[Decimal, ...]:
        """Monday first."""
        return tuple(getattr(self, name) for name in DAY_FIELDS)

    @property
    def by_day(self) -> list[tuple[str, Decimal]]:
        """Each weekday in words, with its hours."""
        return [(words, hours) for (_, words), hours in zip(WEEKDAYS, self.hours, strict=True)]


class Absence(models.Model):
    """A mechanic is away from one day to another, both with it. The reason is for the owner alone."""

    class Kind(models.TextChoices):
        HOLIDAY = "holiday", "Holiday"
        ILLNESS = "illness", "Illness"
        OTHER = "other", "Other"

    mechanic = models.ForeignKey(User, on_delete=models.CASCADE, related_name="absences")
    kind = models.CharField(max_length=8, choices=Kind.choices, default=Kind.HOLIDAY)
    first = models.DateField()
    last = models.DateField()
    half = models.BooleanField(default=False, help_text="Half the hours of each of these days.")
    reason = models.CharField(max_length=120, blank=True)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["first", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(last__gte=F("first")),
                name="absence_ends_after_it_began",
                violation_error_message="It cannot end before it begins.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.mechanic}, {self.first:%-d %b %Y} to {self.last:%-d %b %Y}"


class OpeningHours(models.Model):
    """When the counter is open on a weekday, 0 for Monday; a day with a break has two rows, a closed one has none."""

    shop = models.ForeignKey(Shop, on_delete=models.CASCADE, related_name="opening_hours")
    weekday = models.PositiveSmallIntegerField()
    opens = models.TimeField()
    closes = models.TimeField()

    class Meta:
        ordering = ["weekday", "opens"]
        constraints = [
            models.UniqueConstraint(fields=["shop", "weekday", "opens"], name="opens_once_at_a_time"),
            models.CheckConstraint(condition=Q(weekday__lte=6), name="opening_weekday_is_known"),
        ]

    def __str__(self) -> str:
        return f"{WEEKDAYS[self.weekday][1]}, {self.opens:%H:%M} to {self.closes:%H:%M}"


class PromiseHeard(models.Model):
    """What was said at the counter about the earliest honest day when a ticket was booked in; it is not changed."""

    ticket = models.OneToOneField(Ticket, on_delete=models.CASCADE, related_name="promise_heard")
    earliest_on = models.DateField()
    reasons = models.JSONField(default=list, blank=True, help_text="Sentences, as the booking showed them.")
    at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.ticket}: {self.earliest_on:%-d %b %Y} was the earliest"
