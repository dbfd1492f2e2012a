"""What a job costs: prices of services, labour on tickets, what the customer agreed to, and the charges in the end."""

from __future__ import annotations

from decimal import Decimal

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy

from specs.models import ServiceKit
from workshop.issued.models import Document
from workshop.staff.models import Shop
from workshop.tickets.models import Ticket
from workshop.tickets.models.part_line import Warranty

_HUNDRED = MaxValueValidator(100, "A tax rate is from 0 to 100 %%.")
_NOT_NEGATIVE = MinValueValidator(0, "This cannot be below zero.")
LONGEST_MINUTES = 24 * 60


class TaxRules(models.Model):
    """How a shop taxes what it charges, as its owner set it. A shop without a row charges no tax."""

    class Rounding(models.TextChoices):
        SUM = "sum", "on the sum of each rate"
        LINE = "line", "on each line"

    shop = models.OneToOneField(Shop, on_delete=models.CASCADE, related_name="tax_rules")
    name = models.CharField(max_length=20, default="VAT")
    labour_percent = models.DecimalField(
        max_digits=5, decimal_places=2, default=Decimal(0), validators=[_NOT_NEGATIVE, _HUNDRED]
    )
    parts_percent = models.DecimalField(
        max_digits=5, decimal_places=2, default=Decimal(0), validators=[_NOT_NEGATIVE, _HUNDRED]
    )
    prices_include_tax = models.BooleanField(default=False)
    rounding = models.CharField(max_length=4, choices=Rounding.choices, default=Rounding.SUM)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(labour_percent__gte=0, labour_percent__lte=100)
                & Q(parts_percent__gte=0, parts_percent__lte=100),
                name="tax_rates_are_percent",
            )
        ]

    def __str__(self) -> str:
        return f"{self.name} of {self.shop}"


class TaxRate(models.Model):
    """Rates that hold from a day on. Until the first of them those of TaxRules hold."""

    shop = models.ForeignKey(Shop, on_delete=models.CASCADE, related_name="tax_rates")
    from_on = models.DateField()
    labour_percent = models.DecimalField(max_digits=5, decimal_places=2, validators=[_NOT_NEGATIVE, _HUNDRED])
    parts_percent = models.DecimalField(max_digits=5, decimal_places=2, validators=[_NOT_NEGATIVE, _HUNDRED])
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["from_on"]
        constraints = [
            models.UniqueConstraint(fields=["shop", "from_on"], name="one_tax_rate_a_day"),
            models.CheckConstraint(
                condition=Q(labour_percent__gte=0, labour_percent__lte=100)
                & Q(parts_percent__gte=0, parts_percent__lte=100),
                name="dated_tax_rates_are_percent",
            ),
        ]

    def __str__(self) -> str:
        return f"Tax of {self.shop} from {self.from_on}"


class ServicePrice(models.Model):
    """What the labour of a service level costs, for a fork or for a shock. Parts come on top."""

    shop = models.ForeignKey(Shop, on_delete=models.CASCADE, related_name="service_prices")
    kind = models.CharField(max_length=5, choices=[("fork", "Fork"), ("shock", "Shock")])
    level = models.CharField(max_length=10, choices=ServiceKit.Level.choices)
    price = models.DecimalField(max_digits=9, decimal_places=2, validators=[_NOT_NEGATIVE])

    class Meta:
        ordering = ["kind", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["shop", "kind", "level"], name="one_price_of_a_service"),
            models.CheckConstraint(condition=Q(price__gte=0), name="service_price_not_negative"),
        ]

    def __str__(self) -> str:
        return f"{self.get_level_display()}, {self.get_kind_display().lower()}"


class LabourLine(models.Model):
    """Work that is charged: a service at its price, or minutes at the rate of the day."""

    ticket = models.ForeignKey(Ticket, on_delete=models.CASCADE, related_name="labour_lines")
    words = models.CharField(max_length=120)
    level = models.CharField(max_length=10, choices=ServiceKit.Level.choices, blank=True)
    minutes = models.PositiveSmallIntegerField(null=True, blank=True)
    rate_hour = models.DecimalField(max_digits=8, decimal_places=2, null=True, blank=True)
    price = models.DecimalField(max_digits=9, decimal_places=2, validators=[_NOT_NEGATIVE])
    warranty = models.CharField(
        max_length=5, choices=Warranty.choices, blank=True, help_text="Who bears it; empty where the customer owes it."
    )
    dropped = models.BooleanField(default=False)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=Q(price__gte=0), name="labour_price_not_negative"),
            models.CheckConstraint(
                condition=Q(minutes__isnull=True, rate_hour__isnull=True)
                | Q(minutes__gt=0, minutes__lte=LONGEST_MINUTES, rate_hour__isnull=False),
                name="minutes_have_a_rate",
            ),
            models.CheckConstraint(
                condition=Q(rate_hour__isnull=True) | Q(rate_hour__gte=0),
                name="rate_of_labour_not_negative",
                violation_error_message="An hour of labour cannot cost less than nothing.",
            ),
            models.UniqueConstraint(
                fields=["ticket", "level"],
                condition=Q(dropped=False) & ~Q(level=""),
                name="service_charged_once_on_a_ticket",
            ),
            models.CheckConstraint(condition=Q(warranty__in=["", "shop", "maker"]), name="labour_warranty_is_known"),
        ]

    def __str__(self) -> str:
        return f"{self.words} on {self.ticket}"


class Discount(models.Model):
    """What is taken off a ticket's charges, with tax where prices include it, and why. Rows are dropped, not edited."""

    class Off(models.TextChoices):
        LABOUR = "labour", "Off the labour"
        PARTS = "part", "Off the parts"

    ticket = models.ForeignKey(Ticket, on_delete=models.CASCADE, related_name="discounts")
    off = models.CharField(max_length=6, choices=Off.choices, default=Off.LABOUR)
    amount = models.DecimalField(max_digits=9, decimal_places=2)
    reason = models.CharField(max_length=120)
    dropped = models.BooleanField(default=False)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=Q(amount__gt=0), name="discount_above_zero"),
            models.CheckConstraint(condition=~Q(reason=""), name="discount_has_a_reason"),
        ]

    def __str__(self) -> str:
        return f"{self.reason} on {self.ticket}"


class Agreement(models.Model):
    """The customer's answer to an estimate: who, when, how, and to exactly what. Rows are added, never edited."""

    class How(models.TextChoices):
        IN_THE_SHOP = "in_the_shop", gettext_lazy("In the shop")
        PHONE = "phone", gettext_lazy("By phone")
        MESSAGE = "message", gettext_lazy("By email or message")
        PAGE = "page", gettext_lazy("On the customer’s page")

    document = models.ForeignKey(Document, on_delete=models.PROTECT, related_name="answers")
    ticket = models.ForeignKey(Ticket, on_delete=models.PROTECT, related_name="agreements")
    agreed = models.BooleanField()
    variant = models.ForeignKey("Variant", on_delete=models.PROTECT, null=True, blank=True, related_name="answers")
    amount = models.DecimalField(max_digits=10, decimal_places=2, help_text="The total of the estimate, with tax.")
    data_digest = models.CharField(max_length=64, help_text="Of the estimate’s data, as printed on it.")
    how = models.CharField(max_length=12, choices=How.choices)
    said_by = models.CharField(max_length=120, help_text="Who gave the answer.")
    note = models.CharField(max_length=200, blank=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+", help_text="Who wrote it down."
    )
    at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=Q(amount__gte=0), name="agreed_amount_not_negative"),
            models.CheckConstraint(condition=~Q(said_by=""), name="answer_says_who_gave_it"),
        ]

    def __str__(self) -> str:
        return f"{'Yes' if self.agreed else 'No'} to {self.document}"


class FinalCharges(models.Model):
    """What a ticket was charged when it was handed back, frozen. Amounts in `lines` are decimals as text."""

    ticket = models.OneToOneField(Ticket, on_delete=models.PROTECT, related_name="final_charges")
    currency = models.CharField(max_length=3)
    tax_name = models.CharField(max_length=20)
    lines = models.JSONField(help_text="Kind, number, title, quantity, unit, price, tax_percent, amount.")
    tax_rows = models.JSONField(help_text="Percent, net, tax and gross of each rate.")
    prices_include_tax = models.BooleanField()
    net = models.DecimalField(max_digits=10, decimal_places=2)
    tax = models.DecimalField(max_digits=10, decimal_places=2)
    gross = models.DecimalField(max_digits=10, decimal_places=2)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["at", "pk"]
        indexes = [models.Index(fields=["at"], name="charges_of_days")]

    def __str__(self) -> str:
        return f"Charges of {self.ticket}"
