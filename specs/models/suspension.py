"""Fork and shock models and how they come apart."""

from __future__ import annotations

from django.db import models

from specs.contradictions import (
    COIL_WITH_PORT,
    COIL_WITH_RAMP,
    COILS,
    FORK_WITH_RESERVOIR,
    INVERTED_WITH_BUTTONS,
    SHOCK_INVERTED,
    SHOCK_WITH_CROWNS,
)
from specs.facts import MODEL_FACTS, FactValue, choices


class SuspensionModel(models.Model):
    """A maker's model over a range of years, with the facts that decide how it comes apart.

    An empty fact is not known; steps then show each variant.
    """

    maker = models.CharField(max_length=60)
    name = models.CharField(max_length=80)
    year_from = models.PositiveSmallIntegerField()
    year_to = models.PositiveSmallIntegerField(null=True, blank=True, help_text="Empty while still made.")
    kind = models.CharField(max_length=10, choices=choices("kind"), default="fork")
    spring_kind = models.CharField(max_length=10, choices=choices("spring_kind"), blank=True)
    air_side = models.CharField(max_length=10, choices=choices("air_side"), blank=True)
    spring_retention = models.CharField(max_length=20, choices=choices("spring_retention"), blank=True)
    ramp_chamber = models.BooleanField(null=True, blank=True)
    crowns = models.CharField(max_length=10, choices=choices("crowns"), blank=True)
    inverted = models.BooleanField(null=True, blank=True)
    foot_fastener = models.CharField(max_length=10, choices=choices("foot_fastener"), blank=True)
    damper_kind = models.CharField(max_length=20, choices=choices("damper_kind"), blank=True)
    crush_washers = models.BooleanField(null=True, blank=True)
    bleed_buttons = models.BooleanField(null=True, blank=True)
    foam_rings = models.BooleanField(null=True, blank=True)
    self_equalising = models.BooleanField(null=True, blank=True)
    reservoir = models.CharField(max_length=10, choices=choices("reservoir"), blank=True)
    remote = models.CharField(max_length=10, choices=choices("remote"), blank=True)
    travels_mm = models.JSONField(default=list, blank=True, help_text="Travels it is made in, in mm.")
    is_demo = models.BooleanField(default=False)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["maker", "name", "year_from"]
        constraints = [
            models.UniqueConstraint(fields=["maker", "name", "year_from"], name="one_model_per_maker_name_year"),
            models.CheckConstraint(
                condition=models.Q(year_to__isnull=True) | models.Q(year_to__gte=models.F("year_from")),
                name="model_years_in_order",
            ),
            models.CheckConstraint(
                condition=~models.Q(spring_kind__in=COILS) | ~models.Q(self_equalising=True),
                name="model_coil_levels_through_no_port",
                violation_error_message=COIL_WITH_PORT,
            ),
            models.CheckConstraint(
                condition=~models.Q(spring_kind__in=COILS) | ~models.Q(ramp_chamber=True),
                name="model_coil_has_no_ramp_chamber",
                violation_error_message=COIL_WITH_RAMP,
            ),
            models.CheckConstraint(
                condition=~models.Q(inverted=True) | ~models.Q(bleed_buttons=True),
                name="model_inverted_has_no_bleed_buttons",
                violation_error_message=INVERTED_WITH_BUTTONS,
            ),
            models.CheckConstraint(
                condition=models.Q(kind="fork") | models.Q(crowns=""),
                name="model_shock_has_no_crowns",
                violation_error_message=SHOCK_WITH_CROWNS,
            ),
            models.CheckConstraint(
                condition=models.Q(kind="fork") | ~models.Q(inverted=True),
                name="model_shock_is_not_inverted",
                violation_error_message=SHOCK_INVERTED,
            ),
            models.CheckConstraint(
                condition=models.Q(kind="shock") | models.Q(reservoir=""),
                name="model_fork_has_no_reservoir",
                violation_error_message=FORK_WITH_RESERVOIR,
            ),
        ]

    def __str__(self) -> str:
        return f"{self.maker} {self.name} {self.years}"

    @property
    def years(self) -> str:
        if self.year_to is None:
            return f"{self.year_from}–"
        return str(self.year_from) if self.year_to == self.year_from else f"{self.year_from}–{self.year_to}"

    def facts(self) -> dict[str, FactValue | None]:
        """Every fact of MODEL_FACTS; None where it is not known."""
        known: dict[str, FactValue | None] = {}
        for key in MODEL_FACTS:
            value = getattr(self, key)
            known[key] = None if value in ("", None) else value
        return known
