"""What a mechanic said of the unit beside ticking. Rows are added, never edited."""

from __future__ import annotations

import uuid

from django.conf import settings
from django.db import models

from diagnosis.models.run import Run


class ToldOtherwise(models.Model):
    """That a part of the unit is in a condition, on somebody's word, or that such a word was taken back.

    `part` and `value` are of diagnosis.unit_parts; what was taken back leaves the part unknown. It stands in the order
    of the job's ticks after `after_tick`, the last one there was.
    """

    run = models.ForeignKey(Run, on_delete=models.CASCADE, related_name="told", help_text="Where it was said.")
    job = models.UUIDField(db_index=True)
    part = models.CharField(max_length=30)
    value = models.CharField(max_length=20)
    note = models.TextField(blank=True)
    after_tick = models.PositiveBigIntegerField(default=0)
    takes_back = models.OneToOneField(
        "self", on_delete=models.CASCADE, null=True, blank=True, related_name="taken_back_by"
    )
    client_id = models.UUIDField(unique=True, default=uuid.uuid4)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    said_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"{self.part}={self.value}"
