"""What came of an order, what went back of it, and what was credited. Added, never edited; a slip is booked back."""

from __future__ import annotations

import uuid
from decimal import Decimal

from django.conf import settings
from django.db import models
from django.db.models import Q

from workshop.stock.purchase_models import OrderLine, PurchaseOrder
from workshop.tickets.models.part_line import PRICE_DECIMALS, PRICE_DIGITS

_AMOUNT = {"max_digits": 9, "decimal_places": 2, "default": Decimal(0)}


class Delivery(models.Model):
    """What came at once of one order. Its mark is made by the form: sent twice, it is booked once."""

    order = models.ForeignKey(PurchaseOrder, on_delete=models.PROTECT, related_name="deliveries")
    sent_id = models.UUIDField(default=uuid.uuid4, editable=False)
    note = models.CharField(max_length=120, blank=True, help_text="The number of the delivery note.")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()
    undone_at = models.DateTimeField(null=True, blank=True)
    undone_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    undone_why = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["pk"]
        verbose_name_plural = "deliveries"
        constraints = [
            models.UniqueConstraint(fields=["order", "sent_id"], name="delivery_booked_once"),
            models.CheckConstraint(
                condition=Q(undone_at__isnull=True, undone_why="") | (Q(undone_at__isnull=False) & ~Q(undone_why="")),
                name="delivery_booked_back_says_why",
            ),
        ]

    def __str__(self) -> str:
        return f"Delivery of order {self.order.number}"


class DeliveryLine(models.Model):
    """What came of one line: good, into the stores; damaged or wrong, not; and what its note says and was not there.

    `pack_price` is what was asked for a pack of the line and `price` the same for each piece or ml, rounded to four
    decimals, both in the order's currency; None where nobody said it.
    """

    delivery = models.ForeignKey(Delivery, on_delete=models.CASCADE, related_name="lines")
    line = models.ForeignKey(OrderLine, on_delete=models.PROTECT, related_name="delivered")
    good = models.DecimalField(**_AMOUNT)  # type: ignore[arg-type]
    damaged = models.DecimalField(**_AMOUNT)  # type: ignore[arg-type]
    wrong = models.DecimalField(**_AMOUNT)  # type: ignore[arg-type]
    missing = models.DecimalField(**_AMOUNT)  # type: ignore[arg-type]
    price = models.DecimalField(max_digits=PRICE_DIGITS, decimal_places=PRICE_DECIMALS, null=True, blank=True)
    pack_price = models.DecimalField(
        max_digits=PRICE_DIGITS, decimal_places=PRICE_DECIMALS, null=True, blank=True, help_text="Of a pack, as asked."
    )
    note = models.CharField(max_length=120, blank=True, help_text="What was wrong, or why more came.")

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["delivery", "line"], name="line_once_in_a_delivery"),
            models.CheckConstraint(
                condition=Q(good__gte=0, damaged__gte=0, wrong__gte=0, missing__gte=0)
                & (Q(good__gt=0) | Q(damaged__gt=0) | Q(wrong__gt=0) | Q(missing__gt=0)),
                name="delivery_line_says_something",
            ),
            models.CheckConstraint(
                condition=Q(price__isnull=True, pack_price__isnull=True) | Q(price__gte=0, pack_price__gte=0),
                name="delivery_price_not_negative",
                violation_error_message="A price cannot be below zero.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.good:g} × {self.line.item}"


class SentBack(models.Model):
    """What went back to the supplier of a line: out of the stores, or what never went into them."""

    class What(models.TextChoices):
        GOOD = "good", "From the stores"
        UNUSABLE = "unusable", "Damaged or wrong, never in the stores"

    line = models.ForeignKey(OrderLine, on_delete=models.PROTECT, related_name="sent_back")
    sent_id = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    what = models.CharField(max_length=8, choices=What.choices)
    quantity = models.DecimalField(max_digits=9, decimal_places=2)
    reason = models.CharField(max_length=120)
    replaced = models.BooleanField(help_text="Another is to come; else its money is.")
    reduced = models.DecimalField(
        max_digits=9, decimal_places=2, default=Decimal(0), help_text="By how much less is ordered now."
    )
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()
    undone_at = models.DateTimeField(null=True, blank=True)
    undone_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["pk"]
        verbose_name_plural = "sent back"
        constraints = [
            models.CheckConstraint(
                condition=Q(quantity__gt=0, reduced__gte=0), name="sent_back_is_something"
            ),
            models.CheckConstraint(condition=~Q(reason=""), name="sent_back_says_why"),
        ]  # fmt: skip

    def __str__(self) -> str:
        return f"{self.quantity:g} × {self.line.item} sent back"


class SupplierCredit(models.Model):
    """Money that the supplier gave back of an order, in its currency; below zero where that was taken back."""

    order = models.ForeignKey(PurchaseOrder, on_delete=models.PROTECT, related_name="credits")
    sent_id = models.UUIDField(unique=True, default=uuid.uuid4, editable=False)
    takes_back = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="taken_back"
    )
    amount = models.DecimalField(max_digits=9, decimal_places=2)
    note = models.CharField(max_length=120, help_text="The number of the credit note, or what it is for.")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(amount__gt=0, takes_back__isnull=True) | Q(amount__lt=0, takes_back__isnull=False),
                name="credit_taken_back_names_the_credit",
            )
        ]

    def __str__(self) -> str:
        return f"Credit of {self.amount} for order {self.order.number}"
