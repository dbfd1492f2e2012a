"""Shops and the people who work in them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.contrib.auth.models import AbstractUser
from django.core.validators import MinValueValidator
from django.db import models

from specs.units import DIMENSIONS
from workshop.staff.roles import ROLES, Right, Role


def unit_choices(dimension: str) -> list[tuple[str, str]]:
    return [(unit, unit) for unit in DIMENSIONS[dimension].shown_units]


class Shop(models.Model):
    """One workshop: its name on the paper and the units its people read."""

    class Paper(models.TextChoices):
        A4 = "A4", "A4"
        LETTER = "Letter", "US Letter"

    name = models.CharField(max_length=120)
    address = models.TextField(blank=True)
    phone = models.CharField(max_length=40, blank=True)
    email = models.EmailField(blank=True)
    public_address = models.CharField(max_length=200, blank=True, default="")
    time_zone = models.CharField(max_length=60, default="UTC")
    currency = models.CharField(max_length=3, default="EUR")
    paper = models.CharField(max_length=10, choices=Paper.choices, default=Paper.A4)
    pressure_unit = models.CharField(max_length=10, choices=unit_choices("pressure"), default="psi")
    length_unit = models.CharField(max_length=10, choices=unit_choices("length"), default="mm")
    torque_unit = models.CharField(max_length=10, choices=unit_choices("torque"), default="N·m")
    volume_unit = models.CharField(max_length=10, choices=unit_choices("volume"), default="ml")
    mass_unit = models.CharField(max_length=10, choices=unit_choices("mass"), default="kg")
    temperature_unit = models.CharField(max_length=10, choices=unit_choices("temperature"), default="°C")
    altitude_m = models.FloatField(default=0.0, help_text="Height of the shop above sea level, in metres.")
    pump_hose_m3 = models.FloatField(
        null=True, blank=True, help_text="Air that the pump and its hose take, in cubic metres."
    )
    labour_rate_hour = models.DecimalField(
        max_digits=8, decimal_places=2, default=60, validators=[MinValueValidator(0)]
    )
    owners_need_second_factor = models.BooleanField(default=False)
    last_ticket_number = models.PositiveIntegerField(default=0)
    is_demo = models.BooleanField(default=False)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(labour_rate_hour__gte=0),
                name="labour_rate_not_negative",
                violation_error_message="An hour of labour cannot cost less than nothing.",
            ),
            models.CheckConstraint(
                condition=models.Q(pump_hose_m3__isnull=True) | models.Q(pump_hose_m3__gte=0),
                name="pump_hose_not_negative",
                violation_error_message="A hose cannot take less air than none.",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def unit_for(self, dimension: str) -> str:
        """The unit in which this shop reads a dimension."""
        chosen: str = getattr(self, f"{dimension}_unit", "")
        return chosen or DIMENSIONS[dimension].shown_units[0]


class User(AbstractUser):
    """A member of staff. The role decides what they see first and what they may do (`workshop/staff/roles.py`)."""

    Role = Role

    shop = models.ForeignKey(Shop, on_delete=models.PROTECT, related_name="staff", null=True)
    role = models.CharField(max_length=10, choices=Role.choices, default=Role.COUNTER)
    must_change_password = models.BooleanField(default=False)

    class Meta:
        constraints = [models.CheckConstraint(condition=models.Q(role__in=Role.values), name="user_role_is_known")]

    def __str__(self) -> str:
        return self.get_full_name() or self.username

    @property
    def rights(self) -> frozenset[Right]:
        """What this role may do; nothing, where the role is none of the shop's."""
        return ROLES[self.role].rights if self.role in ROLES else frozenset()

    def may(self, right: Right) -> bool:
        return right in self.rights

    @property
    def is_owner(self) -> bool:
        return self.role == self.Role.OWNER

    if TYPE_CHECKING:
        shop_id: int | None
