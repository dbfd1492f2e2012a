"""Orders at suppliers. What came in is the sum of movements, never an edited number."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from typing import Any

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
    currency = models.CharField(max_length=3, blank=True, help_text="Of its prices; empty is the shop’s own.")
    sent_at = models.DateTimeField(null=True, blank=True, help_text="When somebody said that it went to the supplier.")
    closed_at = models.DateTimeField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["-number"]
        constraints = [models.UniqueConstraint(fields=["shop", "number"], name="order_number_once_in_a_shop")]

    def __str__(self) -> str:
        return f"Order {self.number} at {self.supplier}"


class OrderLine(models.Model):
    """How much of one item is ordered now, and at what cost each; nothing once it was cancelled.

    Amounts are in pieces or ml, whatever the pack. What a pack costs is kept beside the cost each, which is rounded.
    """

    order = models.ForeignKey(PurchaseOrder, on_delete=models.CASCADE, related_name="lines")
    item = models.ForeignKey("StockItem", on_delete=models.PROTECT, related_name="order_lines")
    supplier_number = models.CharField(max_length=60, blank=True)
    ordered = models.DecimalField(max_digits=9, decimal_places=2)
    cost = models.DecimalField(
        max_digits=PRICE_DIGITS,
        decimal_places=PRICE_DECIMALS,
        null=True,
        blank=True,
        validators=[MinValueValidator(0)],
    )
    pack = models.DecimalField(max_digits=9, decimal_places=2, default=Decimal(1), help_text="Bought by so many.")
    pack_price = models.DecimalField(
        max_digits=PRICE_DIGITS, decimal_places=PRICE_DECIMALS, null=True, blank=True, validators=[MinValueValidator(0)]
    )
    expected_on = models.DateField(null=True, blank=True, help_text="Where it is another day than the order’s.")

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["order", "item"], name="item_once_in_an_order"),
            models.CheckConstraint(condition=Q(ordered__gte=0), name="order_line_orders_nothing_below_zero"),
            models.CheckConstraint(
                condition=Q(pack__gt=0) & (Q(pack_price__isnull=True) | Q(pack_price__gte=0)),
                name="order_line_pack_holds_something",
            ),
            models.CheckConstraint(
                condition=Q(cost__isnull=True) | Q(cost__gte=0),
                name="order_line_cost_not_negative",
                violation_error_message="A cost cannot be below zero.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.ordered:g} × {self.item}"

    @property
    def cost_of_all(self) -> Decimal | None:
        """Of what is ordered, to the cent, in the order's currency; None where no cost is known."""
        cent = Decimal("0.01")
        if self.pack_price is not None:
            return (self.ordered * self.pack_price / self.pack).quantize(cent, ROUND_HALF_UP)
        return None if self.cost is None else (self.ordered * self.cost).quantize(cent, ROUND_HALF_UP)


class OrderStep(models.Model):
    """Something that was done to an order: sent, confirmed, changed, closed. Added, never edited.

    `values` are what it changed, by name, each as [was, is] in plain words.
    """

    class Kind(models.TextChoices):
        SENT = "sent", "Sent"
        NOT_SENT = "not_sent", "Not sent after all"
        CONFIRMED = "confirmed", "Confirmed"
        ADDED = "added", "Added"
        CHANGED = "changed", "Changed"
        CANCELLED = "cancelled", "Cancelled"
        CLOSED = "closed", "Closed"
        OPENED = "opened", "Opened again"

    order = models.ForeignKey(PurchaseOrder, on_delete=models.CASCADE, related_name="steps")
    line = models.ForeignKey(OrderLine, on_delete=models.CASCADE, null=True, blank=True, related_name="+")
    kind = models.CharField(max_length=9, choices=Kind.choices)
    values: models.JSONField[Any, Any] = models.JSONField(default=dict)
    reason = models.CharField(max_length=120, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}: order {self.order.number}"
