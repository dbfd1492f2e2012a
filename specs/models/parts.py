"""Parts and the kits that a service takes."""

from __future__ import annotations

from decimal import Decimal

from django.core.exceptions import ValidationError
from django.core.validators import MinValueValidator
from django.db import models
from django.utils.translation import gettext_lazy

from specs.models.oils import Oil
from specs.models.suspension import SuspensionModel


def above_zero(number: float | Decimal) -> None:
    """Raises ValidationError for a measure that is not above zero."""
    if number <= 0:
        raise ValidationError("Enter a number above zero.")


class Part(models.Model):
    """A part by the shop's own number. Countable in pieces, or in ml where it is poured."""

    class Role(models.TextChoices):
        WIPER = "wiper", "Wiper"
        FOAM_RING = "foam_ring", "Foam ring"
        O_RING = "o_ring", "O-ring"
        FOOT_SEAL = "foot_seal", "Foot seal"
        CRUSH_WASHER = "crush_washer", "Crush washer"
        AIR_SPRING = "air_spring", "Air spring"
        SPRING_SEAL = "spring_seal", "Spring seal kit"
        BUSHING = "bushing", "Bushing"
        OIL = "oil", "Oil"
        GREASE = "grease", "Grease"
        VARNISH = "varnish", "Varnish"
        STANCHIONS = "stanchion_assembly", "Upper assembly"
        DAMPER = "damper", "Damper"
        DAMPER_SEAL = "damper_seal", "Damper seal kit"
        OTHER = "other", "Other"

    class Measure(models.TextChoices):
        PIECE = "piece", "pieces"
        ML = "ml", "ml"

    number = models.CharField(max_length=30, unique=True)
    description = models.CharField(max_length=120)
    role = models.CharField(max_length=20, choices=Role.choices, default=Role.OTHER)
    measure = models.CharField(max_length=10, choices=Measure.choices, default=Measure.PIECE)
    size = models.CharField(max_length=60, blank=True)
    inside_mm = models.FloatField(null=True, blank=True, validators=[above_zero], help_text="O-ring: inside diameter.")
    section_mm = models.FloatField(null=True, blank=True, validators=[above_zero], help_text="O-ring: thickness.")
    stanchion_mm = models.FloatField(null=True, blank=True, validators=[above_zero], help_text="Seal: stanchion.")
    bottle_ml = models.DecimalField(max_digits=8, decimal_places=2, null=True, blank=True, validators=[above_zero])
    oil = models.ForeignKey(Oil, on_delete=models.PROTECT, null=True, blank=True, related_name="parts")
    is_demo = models.BooleanField(default=False)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["number"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(bottle_ml__isnull=True) | models.Q(bottle_ml__gt=0, measure="ml"),
                name="bottles_are_of_what_is_poured",
            ),
            models.CheckConstraint(
                condition=(models.Q(inside_mm__isnull=True) | models.Q(inside_mm__gt=0))
                & (models.Q(section_mm__isnull=True) | models.Q(section_mm__gt=0))
                & (models.Q(stanchion_mm__isnull=True) | models.Q(stanchion_mm__gt=0)),
                name="part_measures_above_zero",
                violation_error_message="A measure of a part is above zero.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.number} {self.description}"


class ServiceKit(models.Model):
    """What one service level takes on one model."""

    class Level(models.TextChoices):
        LOWERS = "lowers", gettext_lazy("Lowers service")
        SPRING = "spring", gettext_lazy("Spring service")
        FULL = "full", gettext_lazy("Full service")

    model = models.ForeignKey(SuspensionModel, on_delete=models.CASCADE, related_name="kits")
    level = models.CharField(max_length=10, choices=Level.choices)
    source_document = models.CharField(max_length=160, blank=True)
    is_demo = models.BooleanField(default=False)

    class Meta:
        ordering = ["model", "level"]
        constraints = [models.UniqueConstraint(fields=["model", "level"], name="one_kit_per_model_and_level")]

    def __str__(self) -> str:
        return f"{self.get_level_display()} kit, {self.model}"


class KitLine(models.Model):
    """A part of a kit and how much of it: pieces, or ml of oil."""

    kit = models.ForeignKey(ServiceKit, on_delete=models.CASCADE, related_name="lines")
    part = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="kit_lines")
    quantity = models.DecimalField(max_digits=8, decimal_places=2, validators=[MinValueValidator(0)])
    note = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["kit", "part"], name="part_once_in_a_kit"),
            models.CheckConstraint(condition=models.Q(quantity__gt=0), name="kit_line_takes_something"),
        ]

    def __str__(self) -> str:
        return f"{self.quantity:g} × {self.part}"
