"""New prices that take effect together on a day, and can go back together."""

from __future__ import annotations

from django.conf import settings
from django.core.validators import MinValueValidator
from django.db import models

from workshop.staff.models import Shop
from workshop.tickets.models.part_line import PRICE_DECIMALS, PRICE_DIGITS


class PriceUpdate(models.Model):
    """New prices of one or many items: from which day, by whom, when they came into effect, when they were undone."""

    shop = models.ForeignKey(Shop, on_delete=models.PROTECT, related_name="price_updates")
    words = models.CharField(max_length=200)
    rounding = models.DecimalField(
        max_digits=6, decimal_places=2, null=True, blank=True, help_text="To a multiple of this; none where by hand."
    )
    from_on = models.DateField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()
    applied_at = models.DateTimeField(null=True, blank=True)
    undone_at = models.DateTimeField(null=True, blank=True)
    undone_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["-pk"]
        indexes = [
            models.Index(
                fields=["shop", "from_on"],
                condition=models.Q(applied_at__isnull=True, undone_at__isnull=True),
                name="price_updates_to_come",
            )
        ]
        constraints = [
            models.CheckConstraint(condition=~models.Q(words=""), name="price_update_says_what_it_is"),
            models.CheckConstraint(
                condition=models.Q(rounding__isnull=True) | models.Q(rounding__gt=0),
                name="price_update_rounds_to_something",
            ),
        ]

    def __str__(self) -> str:
        return self.words

    @property
    def is_to_come(self) -> bool:
        return self.applied_at is None and self.undone_at is None


class NewPrice(models.Model):
    """What the price or cost of an item becomes; `old` is what it was when it came into effect."""

    class What(models.TextChoices):
        PRICE = "price", "Price"
        COST = "cost", "Cost"

    update = models.ForeignKey(PriceUpdate, on_delete=models.CASCADE, related_name="lines")
    item = models.ForeignKey("StockItem", on_delete=models.PROTECT, related_name="new_prices")
    what = models.CharField(max_length=5, choices=What.choices)
    old = models.DecimalField(max_digits=PRICE_DIGITS, decimal_places=PRICE_DECIMALS, null=True)
    new = models.DecimalField(
        max_digits=PRICE_DIGITS, decimal_places=PRICE_DECIMALS, null=True, validators=[MinValueValidator(0)]
    )

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["update", "item", "what"], name="one_new_price_of_an_item"),
            models.CheckConstraint(
                condition=(models.Q(old__isnull=True) | models.Q(old__gte=0))
                & (models.Q(new__isnull=True) | models.Q(new__gte=0)),
                name="new_price_not_negative",
            ),
            models.CheckConstraint(
                condition=models.Q(what="cost") | models.Q(new__isnull=False), name="new_price_is_known"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_what_display()} of {self.item}"
