"""What can be taken off a ticket that was put there by mistake: kept as removed, and neither shown nor printed."""

from __future__ import annotations

from typing import TypeVar

from django.conf import settings
from django.db import models

Record = TypeVar("Record", bound=models.Model)


class StillThere(models.Manager[Record]):
    """Only what was not removed: whoever asks without thinking of it shows nothing that was."""

    def get_queryset(self) -> models.QuerySet[Record]:
        return super().get_queryset().filter(removed_at=None)


class Removable(models.Model):
    """`removed_at` is empty of what is there; who removed it and why stands in the logbook too."""

    removed_at = models.DateTimeField(null=True, blank=True, editable=False)
    removed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, editable=False, related_name="+"
    )

    class Meta:
        abstract = True
