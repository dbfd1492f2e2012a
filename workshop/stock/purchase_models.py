"""Orders at suppliers. What came in is the sum of movements, never an edited number."""

from __future__ import annotations

from django.conf import settings
from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import Q

from workshop.staff.models import Shop
from workshop.tickets.models.part_line import PRICE_DECIMALS, PRICE_DIGITS


class PurchaseOrder(models.Model):
    """A purchase list that went to a supplier. Closed once all came, or the rest will not come."""

    shop = models.ForeignKey(Shop, on_delete=models.PROTECT, related_name="purchase_orders")
    number = models.PositiveIntegerField()
    supplier = models.CharField(max_length=80)
    note = models.CharField(max_length=120, blank=True)
    expected_on = models.DateField(null=True, blank=True, help_text="From the longest lead time of its lines.")
    ordered_at = models.DateTimeField()
    ordered_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    closed_at = models.DateTimeField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["-number"]
        constraints = [models.UniqueConstraint(fields=["shop", "number"], name="order_number_once_in_a_shop")]

    def __str__(self) -> str:
        return f"Order {self.number} at {self.supplier}"


class OrderLine(models.Model):
    """How much of one item was ordered, and at what cost each."""

    order = models.ForeignKey(PurchaseOrder, on_delete=models.CASCADE, related_name="lines")
    item = models.ForeignKey("StockItem", on_delete=models.PROTECT, related_name="order_lines")
    ordered = models.DecimalField(max_digits=9, decimal_places=2)
    cost = models.DecimalField(
        max_digits=PRICE_DIGITS,
        decimal_places=PRICE_DECIMALS,
        null=True,
        blank=True,
        validators=[MinValueValidator(0)],
    )

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["order", "item"], name="item_once_in_an_order"),
            models.CheckConstraint(condition=Q(ordered__gt=0), name="order_line_orders_something"),
            models.CheckConstraint(
                condition=Q(cost__isnull=True) | Q(cost__gte=0),
                name="order_line_cost_not_negative",
                violation_error_message="A cost cannot be below zero.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.ordered:g} × {self.item}"
