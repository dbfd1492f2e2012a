"""Batches of a part: what came with one number, each opened bottle of it, and what went into and out of them.

What is in a batch is the sum of its movements. They stand beside those of the stores: what came, went or was
counted says here of which batch, and a bottle that is opened moves from its batch into one of its own.
"""

from __future__ import annotations

import datetime as dt

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower

from workshop.stock.models import StockItem, StockMovement


class Batch(models.Model):
    """What came of a part with one number, or one bottle of it since that was opened."""

    item = models.ForeignKey(StockItem, on_delete=models.PROTECT, related_name="batches")
    number = models.CharField(max_length=40)
    use_by = models.DateField(null=True, blank=True, help_text="The last day; none where nobody knows it.")
    opened_on = models.DateField(null=True, blank=True)
    bottle_of = models.ForeignKey("self", on_delete=models.PROTECT, null=True, blank=True, related_name="bottles")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["pk"]
        verbose_name_plural = "batches"
        constraints = [
            models.UniqueConstraint(
                "item", Lower("number"), condition=Q(bottle_of__isnull=True), name="batch_number_once_of_a_part"
            ),
            models.CheckConstraint(condition=~Q(number=""), name="batch_has_a_number"),
            models.CheckConstraint(
                condition=Q(bottle_of__isnull=True) | Q(opened_on__isnull=False), name="bottle_of_a_batch_is_opened"
            ),
        ]

    def __str__(self) -> str:
        return f"batch {self.number}"

    def is_over(self, today: dt.date) -> bool:
        """Whether its use-by day has gone by; on the day itself it is still good."""
        return self.use_by is not None and self.use_by < today


class BatchMovement(models.Model):
    """What went into a batch or out of it; positive in, negative out. Added, never edited.

    Without a movement of the stores it only changed its batch: a bottle was opened, or what had no batch got one.
    """

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="movements")
    movement = models.ForeignKey(
        StockMovement, on_delete=models.PROTECT, null=True, blank=True, related_name="of_batches"
    )
    quantity = models.DecimalField(max_digits=9, decimal_places=2)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=~Q(quantity=0), name="batch_movement_moves_something"),
            models.UniqueConstraint(fields=["movement", "batch"], name="batch_once_in_a_movement"),
        ]

    def __str__(self) -> str:
        return f"{self.quantity:g} of {self.batch}"


class BatchLevel(models.Model):
    """The sum of a batch's movements. The database's triggers write it; a batch that never moved has none."""

    batch = models.OneToOneField(Batch, on_delete=models.CASCADE, primary_key=True, related_name="kept_level")
    level = models.DecimalField(max_digits=11, decimal_places=2)

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(level__gte=0), name="batch_not_below_nothing")]

    def __str__(self) -> str:
        return f"{self.level:g}"
