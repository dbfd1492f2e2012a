"""A stock-take: a part of the stores that is counted, and each count that was written down in it."""

from __future__ import annotations

from django.conf import settings
from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import Q

from workshop.staff.models import Shop


class StockTake(models.Model):
    """The counting of some shelves or all: begun, gone on with on any day, and booked or given up in the end."""

    class State(models.TextChoices):
        COUNTING = "counting", "Counting"
        BOOKED = "booked", "Booked"
        GIVEN_UP = "given_up", "Given up"

    shop = models.ForeignKey(Shop, on_delete=models.PROTECT, related_name="stock_takes")
    number = models.PositiveIntegerField()
    shelf = models.CharField(max_length=40, blank=True, help_text="How its places begin; empty for all of them.")
    blind = models.BooleanField(default=False, help_text="Whoever counts does not see what should be there.")
    by_two = models.BooleanField(default=False, help_text="A count holds once a second person counted the same.")
    state = models.CharField(max_length=8, choices=State.choices, default=State.COUNTING)
    reason = models.CharField(max_length=80, blank=True, help_text="Why it differed, or why it was given up.")
    started_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    started_at = models.DateTimeField()
    ended_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    ended_at = models.DateTimeField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["-number"]
        constraints = [
            models.UniqueConstraint(fields=["shop", "number"], name="stock_take_number_once_in_a_shop"),
            models.UniqueConstraint(
                fields=["shop", "shelf"],
                condition=Q(state="counting"),
                name="one_open_stock_take_of_a_shelf",
                violation_error_message="These shelves are being counted already.",
            ),
            models.CheckConstraint(
                condition=Q(state="counting", ended_at__isnull=True)
                | Q(state__in=["booked", "given_up"], ended_at__isnull=False),
                name="stock_take_that_ended_says_when",
            ),
        ]

    def __str__(self) -> str:
        return f"Stock-take {self.number}"

    @property
    def is_open(self) -> bool:
        return self.state == self.State.COUNTING

    @property
    def shelves_in_words(self) -> str:
        return f"Shelves {self.shelf}…" if self.shelf else "All shelves"


class ShelfCount(models.Model):
    """What one person counted of one item, and what the stores showed at that moment. Added, never edited."""

    take = models.ForeignKey(StockTake, on_delete=models.CASCADE, related_name="counts")
    item = models.ForeignKey("StockItem", on_delete=models.PROTECT, related_name="+")
    counted = models.DecimalField(max_digits=9, decimal_places=2, validators=[MinValueValidator(0)])
    level = models.DecimalField(max_digits=11, decimal_places=2, help_text="What the stores showed then.")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]
        constraints = [models.CheckConstraint(condition=Q(counted__gte=0), name="shelf_count_not_negative")]

    def __str__(self) -> str:
        return f"{self.counted:g} × {self.item}"
