"""How long the shop keeps people, whom it has erased, and who looked at whom."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from workshop.customers.models import Customer
from workshop.staff.models import Shop

if TYPE_CHECKING:
    from typing import Self

NOTICE = dt.timedelta(days=30)


class RetentionPolicy(models.Model):
    """After how many years without a visit a person is proposed for erasure; empty keeps them until they ask."""

    shop = models.OneToOneField(Shop, on_delete=models.CASCADE, related_name="retention_policy")
    years = models.PositiveSmallIntegerField(
        null=True, blank=True, validators=[MinValueValidator(1), MaxValueValidator(30)]
    )
    by_itself = models.BooleanField(default=False)
    """Whether they are erased then without anybody's press, once they were announced (`ErasureAhead`)."""
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(years__isnull=False) | models.Q(by_itself=False),
                name="nobody_is_erased_by_itself_without_years",
                violation_error_message="Enter after how many years first.",
            ),
            models.CheckConstraint(
                condition=models.Q(years__isnull=True) | models.Q(years__gte=1, years__lte=30),
                name="retention_from_one_to_thirty_years",
                violation_error_message="Enter from 1 to 30 years, or nothing.",
            ),
        ]

    def __str__(self) -> str:
        return f"Retention, {self.shop}"


class ErasureQuerySet(models.QuerySet["Erasure"]):
    def of_shop(self, shop: Shop) -> Self:
        """Asked beside the join, so that the database begins with the few erasures and not with every customer."""
        return self.filter(models.Exists(Customer.objects.filter(pk=models.OuterRef("customer"), shop=shop)))


class Erasure(models.Model):
    """That a person was erased: when, by whom, and which files are still to be removed from the disk."""

    customer = models.OneToOneField(Customer, on_delete=models.PROTECT, related_name="erasure")
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    reason = models.CharField(max_length=160, blank=True)
    documents_removed = models.PositiveIntegerField(default=0)
    photos_removed = models.PositiveIntegerField(default=0)
    files_to_remove = models.JSONField(default=list, blank=True)

    objects = ErasureQuerySet.as_manager()

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"Erased on {self.at:%Y-%m-%d}"


class ErasureAhead(models.Model):
    """That a person is to be erased by itself: since when that is announced, and on how many days they were due."""

    customer = models.OneToOneField(Customer, on_delete=models.CASCADE, related_name="erasure_ahead")
    since = models.DateField()
    last_on = models.DateField()
    days = models.PositiveIntegerField(default=1)
    held = models.BooleanField(default=False)
    """The owner keeps them all the same; while they are due, and until it is taken back."""

    def __str__(self) -> str:
        return f"Announced on {self.since}"

    @property
    def not_before(self) -> dt.date:
        """The first day on which they may be erased."""
        return self.since + NOTICE


class RecordLook(models.Model):
    """That somebody of the shop opened a customer's page on a day, in the shop's time; how often is not kept."""

    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="looks")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    on = models.DateField()

    class Meta:
        ordering = ["-on", "-pk"]
        constraints = [models.UniqueConstraint(fields=["customer", "by", "on"], name="one_look_of_each_a_day")]

    def __str__(self) -> str:
        return f"{self.by} on {self.on}"
