"""Shops and the people who work in them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.contrib.auth.models import AbstractUser
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from specs.units import DIMENSIONS
from workshop.staff.roles import OFFICE_RIGHTS, ROLE_SETS, Right, Role, kinds_of, role_words

DAYS_OF_A_YEAR = "Enter days from 1 to 365, or leave it empty."


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
    country = models.CharField(max_length=2, blank=True, default="")
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
    slip_terms = models.TextField(blank=True, max_length=4000)
    owners_need_second_factor = models.BooleanField(default=False)
    waiting_keeps_days = models.PositiveSmallIntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(1, DAYS_OF_A_YEAR), MaxValueValidator(365, DAYS_OF_A_YEAR)],
        help_text="How long a ticket keeps its parts while it waits for the customer’s answer.",
    )
    last_ticket_number = models.PositiveIntegerField(default=0)
    is_demo = models.BooleanField(default=False)
    suspended_at = models.DateTimeField(null=True, blank=True, help_text="Nobody of it gets in since then.")
    closed_at = models.DateTimeField(null=True, blank=True, help_text="Closed for good; it was suspended before.")
    version = models.PositiveIntegerField(default=1, help_text="Of its settings.")

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
            models.CheckConstraint(
                condition=models.Q(waiting_keeps_days__isnull=True)
                | models.Q(waiting_keeps_days__gte=1, waiting_keeps_days__lte=365),
                name="waiting_keeps_parts_within_a_year",
                violation_error_message=DAYS_OF_A_YEAR,
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def is_stopped(self) -> bool:
        """Whether nobody of it gets in: it is suspended, or closed."""
        return self.suspended_at is not None or self.closed_at is not None

    def unit_for(self, dimension: str) -> str:
        """The unit in which this shop reads a dimension."""
        chosen: str = getattr(self, f"{dimension}_unit", "")
        return chosen or DIMENSIONS[dimension].shown_units[0]


class User(AbstractUser):
    """A member of staff. The roles decide what they see first and what they may do (`workshop/staff/roles.py`)."""

    Role = Role

    shop = models.ForeignKey(Shop, on_delete=models.PROTECT, related_name="staff", null=True)
    roles = models.CharField(max_length=60, default=Role.COUNTER, help_text="As `together` in roles.py writes them.")
    sets_prices = models.BooleanField(default=False, help_text="Besides who may by their role: the owner allows it.")
    must_change_password = models.BooleanField(default=False)
    has_sign_in_news = models.BooleanField(default=False, help_text="A sign-in from a new device was not seen yet.")
    version = models.PositiveIntegerField(default=1)

    by_code = False
    """Whether this request's session began with a short code, and no password was given since (no column)."""

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(roles__in=ROLE_SETS),
                name="user_roles_are_known",
                violation_error_message="Choose one role at least, of those there are.",
            )
        ]

    def __str__(self) -> str:
        return self.get_full_name() or self.username

    @property
    def rights(self) -> frozenset[Right]:
        """What these roles may do together, and what the owner allowed; after a short code nothing of the office."""
        return self.rights_with_password - OFFICE_RIGHTS if self.by_code else self.rights_with_password

    @property
    def rights_with_password(self) -> frozenset[Right]:
        """What they may do once they gave their password; nothing, where no role is one of the shop's."""
        kinds = kinds_of(self.roles)
        allowed = frozenset({Right.SET_PRICES}) if self.sets_prices and kinds else frozenset()
        return allowed.union(*(kind.rights for kind in kinds))

    def may(self, right: Right) -> bool:
        return right in self.rights

    @property
    def is_owner(self) -> bool:
        return self.Role.OWNER in self.roles.split()

    @property
    def role_words(self) -> str:
        """The roles as a screen lists them."""
        return role_words(self.roles.split())

    if TYPE_CHECKING:
        shop_id: int | None
