"""Parts on a ticket."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal

from django.conf import settings
from django.core.validators import MinValueValidator
from django.db import models
from django.utils.translation import gettext_lazy

from diagnosis.models import Step
from specs.models import Part
from workshop.tickets.models.ticket import Ticket

# A price each has four decimals, as a litre at 14.90 is 0.0149 a ml; sums are rounded to the cent once, half up.
PRICE_DIGITS, PRICE_DECIMALS = 11, 4


class Warranty(models.TextChoices):
    """Who bears a line that its customer does not owe."""

    SHOP = "shop", gettext_lazy("the shop’s warranty")
    MAKER = "maker", gettext_lazy("the maker’s warranty")


class PartLine(models.Model):
    """A part this ticket needs, why, how much of it and at what price each.

    A finding may name a role no part is known for yet; the line then has words and no part.
    """

    class Source(models.TextChoices):
        KIT = "kit", "Service kit"
        FINDING = "finding", "Finding"
        BY_HAND = "by_hand", "Added by hand"

    class Status(models.TextChoices):
        NEEDED = "needed", "Needed"
        USED = "used", "Used"
        DROPPED = "dropped", "Removed"

    ticket = models.ForeignKey(Ticket, on_delete=models.CASCADE, related_name="part_lines")
    part = models.ForeignKey(Part, on_delete=models.PROTECT, null=True, blank=True, related_name="ticket_lines")
    instead_of = models.ForeignKey(
        Part,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        help_text="What the line was of before another part was taken for it.",
    )
    words = models.CharField(max_length=120, blank=True)
    role = models.CharField(
        max_length=60, blank=True, editable=False, help_text="What a checklist asked for where no part of it is known."
    )
    quantity = models.DecimalField(max_digits=8, decimal_places=2)
    unit_price = models.DecimalField(
        max_digits=PRICE_DIGITS,
        decimal_places=PRICE_DECIMALS,
        null=True,
        blank=True,
        validators=[MinValueValidator(0, "A price cannot be below zero.")],
        help_text="0 is free of charge.",
    )
    source = models.CharField(max_length=10, choices=Source.choices)
    step = models.ForeignKey(Step, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    status = models.CharField(max_length=10, choices=Status.choices, default=Status.NEEDED)
    note = models.CharField(max_length=120, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()
    warranty = models.CharField(
        max_length=5, choices=Warranty.choices, blank=True, help_text="Who bears it; empty where the customer owes it."
    )
    given_at = models.DateTimeField(
        null=True, blank=True, editable=False, help_text="Since when it is kept for this ticket before all others."
    )

    class Meta:
        ordering = ["pk"]
        indexes = [models.Index(fields=["part", "status"], name="part_line_needed")]
        constraints = [
            models.CheckConstraint(condition=models.Q(quantity__gt=0), name="part_line_takes_something"),
            models.CheckConstraint(
                condition=models.Q(part__isnull=False) | ~models.Q(words=""), name="part_line_names_something"
            ),
            models.CheckConstraint(
                condition=models.Q(unit_price__isnull=True) | models.Q(unit_price__gte=0),
                name="part_line_price_not_negative",
                violation_error_message="A price cannot be below zero.",
            ),
            models.CheckConstraint(
                condition=models.Q(status__in=["needed", "used", "dropped"]), name="part_line_status_is_known"
            ),
            models.CheckConstraint(
                condition=models.Q(source__in=["kit", "finding", "by_hand"]), name="part_line_source_is_known"
            ),
            models.CheckConstraint(
                condition=models.Q(warranty__in=["", "shop", "maker"]), name="part_line_warranty_is_known"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.quantity:g} × {self.title}"

    @property
    def title(self) -> str:
        return self.part.description if self.part is not None else self.words

    @property
    def total(self) -> Decimal | None:
        """What the customer owes for it, to the cent, half up, as charges are; nothing of what a warranty bears."""
        if self.warranty:
            return Decimal("0.00")
        if self.unit_price is None:
            return None
        return (self.quantity * self.unit_price).quantize(Decimal("0.01"), rounding=ROUND_HALF_UP)
