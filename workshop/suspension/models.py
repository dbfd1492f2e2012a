"""Suspension units: forks and rear shocks, whose they are and which bike they are fitted on."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.conf import settings
from django.db import models

from specs.contradictions import contradictions
from specs.facts import FACTS, FactValue, choices
from specs.models import SuspensionModel
from specs.models.parts import above_zero
from workshop.customers.models import Bike, Customer
from workshop.staff.models import Shop
from workshop.web.folded_field import FoldedTextField

if TYPE_CHECKING:
    from collections.abc import Mapping

OWN_FACTS = ("spring_kind", "air_side", "damper_kind", "crowns", "inverted", "ramp_chamber", "gas_charge")


class SuspensionUnit(models.Model):
    """One fork or shock. It may come in without a bike and move between bikes and owners.

    Facts left empty are those of its model; a model that is not in the specs yet is described in words.
    """

    shop = models.ForeignKey(Shop, on_delete=models.PROTECT, related_name="units")
    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="units")
    model = models.ForeignKey(SuspensionModel, on_delete=models.PROTECT, null=True, blank=True, related_name="units")
    kind = models.CharField(max_length=10, choices=choices("kind"), default="fork")
    described_as = models.CharField(
        max_length=120, blank=True, help_text="Maker and model in words, where the model is not in the list."
    )
    serial = models.CharField(max_length=60, blank=True)
    travel_m = models.FloatField(null=True, blank=True, validators=[above_zero])
    spring_kind = models.CharField(max_length=10, choices=choices("spring_kind"), blank=True)
    air_side = models.CharField(max_length=10, choices=choices("air_side"), blank=True)
    damper_kind = models.CharField(max_length=20, choices=choices("damper_kind"), blank=True)
    crowns = models.CharField(max_length=10, choices=choices("crowns"), blank=True)
    inverted = models.CharField(max_length=5, choices=choices("inverted"), blank=True)
    ramp_chamber = models.CharField(max_length=5, choices=choices("ramp_chamber"), blank=True)
    gas_charge = models.CharField(
        max_length=5,
        choices=choices("gas_charge"),
        blank=True,
        help_text="Gas behind a piston or bladder of the damper. Left empty it counts as charged.",
    )
    notes = models.TextField(blank=True)
    # What was measured on this one and taken over (suspension/measuring.py): kept here so that no page asks for it.
    measured = models.JSONField(null=True, blank=True, editable=False)
    search_text = FoldedTextField(editable=False)
    version = models.PositiveIntegerField(default=1)
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["pk"]
        indexes = [
            models.Index(fields=["serial"], name="unit_serial"),
            models.Index(fields=["shop", "search_text"], name="unit_begins"),
        ]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(travel_m__isnull=True) | models.Q(travel_m__gt=0),
                name="unit_travel_above_zero",
                violation_error_message="A travel is above zero.",
            )
        ]

    def __str__(self) -> str:
        return self.title

    @property
    def title(self) -> str:
        """Maker and model as the shop says it."""
        if self.model is not None:
            return str(self.model)
        return self.described_as or f"{self.get_kind_display()} of unknown make"

    @property
    def measured_geometry(self) -> Mapping[str, float]:
        """What was measured on this unit, SI by spec quantity; it goes before its model's values."""
        return dict(self.measured["values"]) if self.measured else {}

    def facts(self) -> Mapping[str, FactValue | None]:
        """The facts that steps adapt to: the unit's own where given, its model's otherwise.

        What its model says and its own facts rule out, as the port of a fork converted to a coil, is not known.
        """
        own = self.own_facts()
        facts: dict[str, FactValue | None] = dict(self.model.facts()) if self.model is not None else {}
        facts |= {"kind": self.kind, **own}
        return facts | {key: None for key in contradictions(facts) if key not in own}

    def own_facts(self) -> dict[str, FactValue]:
        """The facts noted of this very unit."""
        own: dict[str, FactValue] = {}
        for key in OWN_FACTS:
            if noted := getattr(self, key):
                own[key] = next(value for value in FACTS[key].values if str(value) == noted)
        return own


class Fitting(models.Model):
    """That a unit is, or was, fitted on a bike."""

    unit = models.ForeignKey(SuspensionUnit, on_delete=models.CASCADE, related_name="fittings")
    bike = models.ForeignKey(Bike, on_delete=models.PROTECT, related_name="fittings")
    since = models.DateField()
    until = models.DateField(null=True, blank=True)
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["-since", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["unit"], condition=models.Q(until__isnull=True), name="unit_fitted_on_one_bike"
            ),
            models.CheckConstraint(
                condition=models.Q(until__isnull=True) | models.Q(until__gte=models.F("since")),
                name="fitting_ends_after_it_began",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.unit} on {self.bike} since {self.since}"


class ChangeOfOwner(models.Model):
    """That a unit passed to another customer on a day. What the earlier one said of the riding ends there."""

    unit = models.ForeignKey(SuspensionUnit, on_delete=models.CASCADE, related_name="changes_of_owner")
    on = models.DateField()
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["on", "pk"]

    def __str__(self) -> str:
        return f"{self.unit} changed hands on {self.on}"
