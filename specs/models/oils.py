"""Oils: what they are sold as, and the two viscosities that say what they are."""

from __future__ import annotations

from django.db import models


class Oil(models.Model):
    """An oil by name, with kinematic viscosity in mm²/s at 40 and 100 °C where the maker gives it."""

    name = models.CharField(max_length=80, unique=True)
    weight_label = models.CharField(max_length=20, blank=True, help_text="The “weight” printed on the bottle.")
    kv40_mm2_s = models.FloatField(null=True, blank=True)
    kv100_mm2_s = models.FloatField(null=True, blank=True)
    source_document = models.CharField(max_length=160, blank=True)
    is_demo = models.BooleanField(default=False)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.CheckConstraint(
                condition=(models.Q(kv40_mm2_s__isnull=True) | models.Q(kv40_mm2_s__gt=0))
                & (models.Q(kv100_mm2_s__isnull=True) | models.Q(kv100_mm2_s__gt=0)),
                name="oil_viscosities_above_zero",
                violation_error_message="A viscosity is above zero.",
            )
        ]

    def __str__(self) -> str:
        return self.name
