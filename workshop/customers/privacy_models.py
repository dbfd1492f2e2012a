"""How long the shop keeps people, and whom it has erased."""

from __future__ import annotations

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from workshop.customers.models import Customer
from workshop.staff.models import Shop


class RetentionPolicy(models.Model):
    """After how many years without a visit a person is proposed for erasure; empty keeps them until they ask."""

    shop = models.OneToOneField(Shop, on_delete=models.CASCADE, related_name="retention_policy")
    years = models.PositiveSmallIntegerField(
        null=True, blank=True, validators=[MinValueValidator(1), MaxValueValidator(30)]
    )
    version = models.PositiveIntegerField(default=1)

    def __str__(self) -> str:
        return f"Retention, {self.shop}"


class Erasure(models.Model):
    """That a person was erased: when, by whom, and which files are still to be removed from the disk."""

    customer = models.OneToOneField(Customer, on_delete=models.PROTECT, related_name="erasure")
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    reason = models.CharField(max_length=160, blank=True)
    documents_removed = models.PositiveIntegerField(default=0)
    photos_removed = models.PositiveIntegerField(default=0)
    files_to_remove = models.JSONField(default=list, blank=True)

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"Erased on {self.at:%Y-%m-%d}"
