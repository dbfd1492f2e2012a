"""Sums that the database keeps itself, so that a page need not read years of rows to show one number."""

from __future__ import annotations

from django.db import models

from workshop.customers.models import Customer
from workshop.staff.models import Shop
from workshop.stores.models import StockItem


class StockLevel(models.Model):
    """The sum of an item's movements. The database's triggers write it; an item that never moved has none."""

    item = models.OneToOneField(StockItem, on_delete=models.CASCADE, primary_key=True, related_name="kept_level")
    level = models.DecimalField(max_digits=11, decimal_places=2)

    def __str__(self) -> str:
        return f"{self.level:g}"


class LastVisit(models.Model):
    """When a customer's tickets last moved, or when they were entered. Triggers write it; the erased have none."""

    customer = models.OneToOneField(Customer, on_delete=models.CASCADE, primary_key=True, related_name="last_visit")
    shop = models.ForeignKey(Shop, on_delete=models.CASCADE, related_name="+", db_index=False)
    at = models.DateTimeField()

    class Meta:
        indexes = [models.Index(fields=["shop", "at", "customer"], name="last_visit_oldest")]

    def __str__(self) -> str:
        return f"{self.at:%Y-%m-%d}"
