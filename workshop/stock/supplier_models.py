"""Suppliers as records, what each asks for a part, and what was changed by hand of what is to be ordered."""

from __future__ import annotations

from decimal import Decimal

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator, RegexValidator
from django.db import models
from django.db.models import Q

from workshop.staff.models import Shop
from workshop.stock.models import LONGEST_LEAD_DAYS
from workshop.tickets.models.part_line import PRICE_DECIMALS, PRICE_DIGITS

CURRENCY = RegexValidator(r"\A[A-Z]{3}\Z", "Enter the three letters of a currency, such as EUR.")


class Supplier(models.Model):
    """Whom the shop buys from. Parts and orders name it; the database makes a record of each name that they write."""

    shop = models.ForeignKey(Shop, on_delete=models.PROTECT, related_name="suppliers")
    name = models.CharField(max_length=80)
    address = models.TextField(blank=True, max_length=400)
    account = models.CharField(max_length=40, blank=True, help_text="The shop’s number there.")
    terms = models.CharField(max_length=120, blank=True)
    currency = models.CharField(
        max_length=3, blank=True, validators=[CURRENCY], help_text="Of its prices; empty is the shop’s own."
    )
    email = models.EmailField(blank=True)
    usual_days = models.PositiveSmallIntegerField(
        null=True,
        blank=True,
        validators=[MaxValueValidator(LONGEST_LEAD_DAYS)],
        help_text="To deliver, set by hand until deliveries say it.",
    )
    archived_at = models.DateTimeField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(fields=["shop", "name"], name="supplier_once_in_a_shop"),
            models.CheckConstraint(
                condition=Q(usual_days__isnull=True) | Q(usual_days__lte=LONGEST_LEAD_DAYS),
                name="usual_days_within_a_year",
                violation_error_message="Enter a year at most for the days to deliver.",
            ),
            models.CheckConstraint(condition=~Q(name=""), name="supplier_has_a_name"),
        ]

    def __str__(self) -> str:
        return self.name


class SupplierPart(models.Model):
    """A part as one supplier sells it: its number there, and the price of a pack, in the supplier's currency."""

    item = models.ForeignKey("StockItem", on_delete=models.CASCADE, related_name="offers")
    supplier = models.ForeignKey(Supplier, on_delete=models.PROTECT, related_name="offers")
    number = models.CharField(max_length=60, blank=True)
    pack = models.DecimalField(
        max_digits=9, decimal_places=2, default=Decimal(1), help_text="What is bought at once: pieces, or ml."
    )
    price = models.DecimalField(
        max_digits=PRICE_DIGITS,
        decimal_places=PRICE_DECIMALS,
        null=True,
        blank=True,
        validators=[MinValueValidator(0)],
        help_text="Of a pack; empty where it is not known.",
    )

    class Meta:
        ordering = ["supplier__name"]
        indexes = [models.Index(fields=["number"], name="supplier_part_number")]
        constraints = [
            models.UniqueConstraint(fields=["item", "supplier"], name="part_once_of_a_supplier"),
            models.CheckConstraint(
                condition=Q(pack__gt=0),
                name="pack_holds_something",
                violation_error_message="A pack holds more than nothing.",
            ),
            models.CheckConstraint(
                condition=Q(price__isnull=True) | Q(price__gt=0),
                name="supplier_price_above_zero",
                violation_error_message="Enter a price above zero, or leave it empty where it is not known.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.item} of {self.supplier}"

    @property
    def each(self) -> Decimal | None:
        """The price of one piece or ml, in the supplier's currency; None where it is not known."""
        return None if self.price is None else (self.price / self.pack).quantize(Decimal("0.0001"))


class BasketLine(models.Model):
    """What somebody changed by hand of what is to be ordered of an item; gone once it is ordered."""

    item = models.OneToOneField("StockItem", on_delete=models.CASCADE, related_name="basket_line")
    quantity = models.DecimalField(max_digits=9, decimal_places=2, null=True, blank=True)
    supplier = models.CharField(max_length=80, blank=True, help_text="Another than the one at the part.")
    left_out = models.BooleanField(default=False)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(quantity__isnull=True) | Q(quantity__gt=0), name="basket_line_orders_something"
            )
        ]

    def __str__(self) -> str:
        return f"To order: {self.item}"
