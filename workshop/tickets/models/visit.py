"""A visit: what one customer dropped off together."""

from __future__ import annotations

from django.core.validators import MinValueValidator
from django.db import models
from django.utils.translation import gettext_lazy

from workshop.staff.models import Shop


class Visit(models.Model):
    """What tickets of one drop-off have in common. A ticket without one came alone, and nothing was noted of it.

    `loose` holds keys of workshop.tickets.visits.LOOSE_PARTS; carrier and number are text as it stood on the parcel.
    """

    class Way(models.TextChoices):
        COUNTER = "counter", gettext_lazy("Over the counter")
        PARCEL = "parcel", gettext_lazy("By parcel")

    shop = models.ForeignKey(Shop, on_delete=models.PROTECT, related_name="visits")
    loose = models.JSONField(default=list, blank=True)
    loose_words = models.CharField(max_length=200, blank=True)
    shelf = models.CharField(max_length=40, blank=True)
    came_by = models.CharField(max_length=10, choices=Way.choices, default=Way.COUNTER)
    came_carrier = models.CharField(max_length=60, blank=True)
    came_number = models.CharField(max_length=60, blank=True)
    goes_by = models.CharField(max_length=10, choices=Way.choices, default=Way.COUNTER)
    goes_carrier = models.CharField(max_length=60, blank=True)
    goes_number = models.CharField(max_length=60, blank=True)
    price_ceiling = models.DecimalField(
        max_digits=9,
        decimal_places=2,
        null=True,
        blank=True,
        validators=[MinValueValidator(0)],
        help_text="What may be spent on all of it together, beside what was said of each.",
    )
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(price_ceiling__isnull=True) | models.Q(price_ceiling__gte=0),
                name="ceiling_of_a_visit_not_negative",
                violation_error_message="A price limit cannot be below zero.",
            ),
            models.CheckConstraint(
                condition=models.Q(came_by="parcel") | models.Q(came_by="counter", came_carrier="", came_number=""),
                name="only_a_parcel_came_by_a_carrier",
                violation_error_message="Only a parcel has a carrier and a number.",
            ),
            models.CheckConstraint(
                condition=models.Q(goes_by="parcel") | models.Q(goes_by="counter", goes_carrier="", goes_number=""),
                name="only_a_parcel_goes_by_a_carrier",
                violation_error_message="Only a parcel has a carrier and a number.",
            ),
        ]

    def __str__(self) -> str:
        return f"Visit {self.pk}"
