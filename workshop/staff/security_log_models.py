"""What was done about who may enter and what leaves the shop: written once, never changed, each tied to the last."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.conf import settings
from django.core.serializers.json import DjangoJSONEncoder
from django.db import models

from workshop.staff.models import Shop


class SecurityEvent(models.Model):
    """A line of a shop's security log. Triggers refuse to change or delete it (`workshop/staff/append_only.py`)."""

    shop = models.ForeignKey(Shop, on_delete=models.PROTECT, related_name="security_events")
    number = models.PositiveIntegerField(help_text="Of this shop, from 1 without a gap.")
    at = models.DateTimeField()
    kind = models.CharField(max_length=40)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    by_name = models.CharField(max_length=150, blank=True, help_text="The sign-in name at that time.")
    address = models.CharField(max_length=64, blank=True)
    browser = models.CharField(max_length=80, blank=True)
    values = models.JSONField(default=dict, encoder=DjangoJSONEncoder)
    before = models.CharField(max_length=64, blank=True, help_text="The digest of the row before; empty in the first.")
    digest = models.CharField(max_length=64, help_text="SHA-256 of the row before and of this row.")

    class Meta:
        ordering = ["-number"]
        constraints = [models.UniqueConstraint(fields=["shop", "number"], name="security_event_numbered_once")]

    if TYPE_CHECKING:
        shop_id: int
        by_id: int | None

    def __str__(self) -> str:
        return f"{self.kind} {self.number}"
