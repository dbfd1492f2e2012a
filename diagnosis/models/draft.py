"""A checklist being rewritten. It is edited in place until it is put in use as the next version."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from diagnosis.models.checklist import Checklist


class ChecklistDraft(models.Model):
    """One draft a checklist, in the file layout; see diagnosis.drafts for what may be done with its data."""

    key = models.SlugField(max_length=60, unique=True, help_text="Key of the checklist.")
    data = models.JSONField(help_text="The checklist in the file layout.")
    based_on = models.ForeignKey(Checklist, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    version = models.PositiveIntegerField(default=1)
    started_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    started_at = models.DateTimeField(auto_now_add=True)
    changed_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    changed_at = models.DateTimeField(auto_now=True)
    written_by = models.ManyToManyField(
        settings.AUTH_USER_MODEL, blank=True, related_name="+", help_text="Everybody who changed it."
    )

    class Meta:
        ordering = ["key"]

    def __str__(self) -> str:
        return f"Draft of {self.key}"
