"""Spec values: a number that says where it is from and who has checked it."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from specs.models.suspension import SuspensionModel
from specs.quantities import QUANTITIES

ALL_TRAVELS = 0


class SpecValue(models.Model):
    """One version of one value of one model. Versions are never edited; a change adds the next.

    A magnitude is kept as typed and in SI; text quantities (the name of an oil) have `text` instead.
    Checked means: a second person compared it with the source.
    """

    model = models.ForeignKey(SuspensionModel, on_delete=models.CASCADE, related_name="spec_values")
    quantity = models.CharField(max_length=40, choices=[(q.key, q.label) for q in QUANTITIES.values()])
    travel_mm = models.PositiveSmallIntegerField(
        default=ALL_TRAVELS, help_text="Only for this travel; 0 is for every travel."
    )
    magnitude_si = models.FloatField(null=True, blank=True)
    typed = models.CharField(
        max_length=120, blank=True, help_text="The value as it was typed, with its unit; empty when withdrawn."
    )
    text = models.CharField(max_length=120, blank=True)
    tolerance_si = models.FloatField(null=True, blank=True, help_text="Plus or minus, in SI.")
    source_document = models.CharField(max_length=160)
    source_revision = models.CharField(max_length=40, blank=True)
    source_page = models.CharField(max_length=40, blank=True)
    copied_from = models.ForeignKey(
        SuspensionModel,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        help_text="The sister model that this version was copied from, with its source.",
    )
    is_demo = models.BooleanField(default=False)
    number = models.PositiveIntegerField(default=1, help_text="Version number, from 1.")
    is_current = models.BooleanField(default=True)
    entered_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    entered_at = models.DateTimeField(auto_now_add=True)
    checked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    checked_at = models.DateTimeField(null=True, blank=True)
    withdrawn = models.BooleanField(default=False, help_text="This version says: the value is not known after all.")
    taken_back_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    taken_back_at = models.DateTimeField(
        null=True, blank=True, help_text="When the file that brought this version in was taken back."
    )

    class Meta:
        ordering = ["model", "quantity", "travel_mm", "-number"]
        constraints = [
            models.UniqueConstraint(
                fields=["model", "quantity", "travel_mm"],
                condition=Q(is_current=True),
                name="one_current_spec_value",
            ),
            models.UniqueConstraint(
                fields=["model", "quantity", "travel_mm", "number"], name="spec_value_versions_are_numbered"
            ),
            models.CheckConstraint(
                condition=Q(magnitude_si__isnull=False) | ~Q(text="") | Q(withdrawn=True),
                name="spec_value_says_something",
            ),
            models.CheckConstraint(condition=~Q(source_document=""), name="spec_value_has_a_source"),
            models.CheckConstraint(
                condition=Q(checked_by__isnull=True) | Q(entered_by__isnull=True) | ~Q(checked_by=F("entered_by")),
                name="spec_value_checked_by_second_person",
            ),
            models.CheckConstraint(
                condition=Q(checked_by__isnull=True, checked_at__isnull=True)
                | Q(checked_by__isnull=False, checked_at__isnull=False),
                name="checked_value_says_who_and_when",
            ),
            models.CheckConstraint(
                condition=Q(tolerance_si__isnull=True) | Q(tolerance_si__gte=0),
                name="spec_value_tolerance_not_negative",
                violation_error_message="A tolerance is plus or minus: enter it without a sign.",
            ),
            models.CheckConstraint(condition=Q(number__gte=1), name="spec_value_numbered_from_one"),
            models.CheckConstraint(
                condition=Q(taken_back_at__isnull=True) | Q(is_current=False, checked_at__isnull=True),
                name="spec_value_taken_back_is_not_current",
            ),
            models.CheckConstraint(
                condition=Q(copied_from__isnull=True) | ~Q(copied_from=F("model")),
                name="spec_value_copied_from_another_model",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_quantity_display()}: {self.typed}"

    @property
    def is_checked(self) -> bool:
        return self.checked_at is not None

    @property
    def source(self) -> str:
        parts = [
            self.source_document,
            self.source_revision,
            f"p. {self.source_page}" if self.source_page else "",
        ]
        return ", ".join(part for part in parts if part)
