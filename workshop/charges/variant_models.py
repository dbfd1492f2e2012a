"""Ways of doing a job that an estimate offers, such as “repair” or “replace”. The customer takes one of them."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal

from django.conf import settings
from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import Q

from specs.models import Part
from workshop.tickets.models import PartLine, Ticket
from workshop.tickets.models.part_line import PRICE_DECIMALS, PRICE_DIGITS

_NOT_NEGATIVE = MinValueValidator(0, "A price cannot be below zero.")


class Variant(models.Model):
    """One way of doing it. Its lines come onto the ticket once the customer takes it, and only then."""

    ticket = models.ForeignKey(Ticket, on_delete=models.CASCADE, related_name="variants")
    name = models.CharField(max_length=60)
    dropped = models.BooleanField(default=False)
    taken = models.BooleanField(default=False)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["ticket"], condition=Q(taken=True), name="one_variant_is_taken"),
            models.CheckConstraint(condition=~Q(name=""), name="variant_has_a_name"),
            models.CheckConstraint(condition=Q(taken=False) | Q(dropped=False), name="taken_variant_is_not_dropped"),
        ]

    def __str__(self) -> str:
        return self.name


class VariantLine(models.Model):
    """Work or a part that a variant asks for, at the price at which it is offered."""

    variant = models.ForeignKey(Variant, on_delete=models.CASCADE, related_name="lines")
    part = models.ForeignKey(Part, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    words = models.CharField(max_length=120, blank=True)
    quantity = models.DecimalField(max_digits=8, decimal_places=2, default=Decimal(1))
    price = models.DecimalField(
        max_digits=PRICE_DIGITS, decimal_places=PRICE_DECIMALS, null=True, blank=True, validators=[_NOT_NEGATIVE]
    )
    minutes = models.PositiveSmallIntegerField(null=True, blank=True)
    dropped = models.BooleanField(default=False)
    labour_line = models.OneToOneField(
        "LabourLine", on_delete=models.SET_NULL, null=True, editable=False, related_name="offered_as"
    )
    part_line = models.OneToOneField(
        PartLine, on_delete=models.SET_NULL, null=True, editable=False, related_name="offered_as"
    )

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=Q(quantity__gt=0), name="variant_line_takes_something"),
            models.CheckConstraint(
                condition=Q(part__isnull=False, minutes__isnull=True)
                | Q(part__isnull=True, price__isnull=False) & ~Q(words=""),
                name="variant_line_is_a_part_or_work",
            ),
            models.CheckConstraint(
                condition=Q(price__isnull=True) | Q(price__gte=0), name="variant_price_not_negative"
            ),
        ]

    def __str__(self) -> str:
        return self.title

    @property
    def title(self) -> str:
        return self.part.description if self.part is not None else self.words

    @property
    def amount(self) -> Decimal | None:
        """To the cent, half up; of minutes the price is that of an hour."""
        if self.price is None:
            return None
        hours = self.quantity if self.minutes is None else Decimal(self.minutes) / 60
        return (hours * self.price).quantize(Decimal("0.01"), rounding=ROUND_HALF_UP)
