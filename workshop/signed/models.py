"""That somebody of a shop read a version of a checklist through, and stands for it with their name."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q

from diagnosis.models import Checklist
from workshop.staff.models import Shop


class ChecklistSignature(models.Model):
    """One person's signature under exactly one version, in exactly one wording of its causes.

    Never edited; taken back, it stays with the reason. `words` are those of the complaint and the causes when it was
    signed, for the version does not keep them. `as_author`: they signed what they had changed themselves, so that it
    takes a second person.
    """

    shop = models.ForeignKey(Shop, on_delete=models.CASCADE, related_name="checklist_signatures")
    checklist = models.ForeignKey(Checklist, on_delete=models.PROTECT, related_name="+")
    wording = models.PositiveIntegerField()
    words = models.JSONField(default=dict)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    signed_at = models.DateTimeField()
    as_author = models.BooleanField(default=False)
    taken_back_at = models.DateTimeField(null=True, blank=True)
    taken_back_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    taken_back_why = models.CharField(max_length=400, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["shop", "checklist", "wording", "by"],
                condition=Q(taken_back_at__isnull=True),
                name="a_version_signed_once_by_each",
            ),
            models.CheckConstraint(
                condition=Q(taken_back_at__isnull=True, taken_back_by__isnull=True, taken_back_why="")
                | (Q(taken_back_at__isnull=False, taken_back_by__isnull=False) & ~Q(taken_back_why="")),
                name="signature_taken_back_by_whom_and_why",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.checklist}, version {self.checklist.number}: {self.by}"
