"""By what else a part is known, and which part stands in for which."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from specs.models.parts import Part


class PartNumber(models.Model):
    """A number of a part beside its own: one it had before, or the code printed on it that a scanner reads."""

    class Kind(models.TextChoices):
        FORMER = "former", "Former number"
        CODE = "code", "Code to scan"

    part = models.ForeignKey(Part, on_delete=models.CASCADE, related_name="other_numbers")
    kind = models.CharField(max_length=6, choices=Kind.choices)
    number = models.CharField(max_length=60)

    class Meta:
        ordering = ["kind", "number"]
        indexes = [models.Index(fields=["number"], name="other_number_of_a_part")]
        constraints = [
            models.UniqueConstraint(fields=["part", "kind", "number"], name="other_number_once_of_a_part"),
            models.UniqueConstraint(fields=["number"], condition=Q(kind="code"), name="code_is_of_one_part"),
            models.CheckConstraint(condition=~Q(number=""), name="other_number_is_not_empty"),
        ]

    def __str__(self) -> str:
        return self.number


class StandIn(models.Model):
    """Another part for this one: it took its place for good (superseded), or may be used instead of it."""

    class Kind(models.TextChoices):
        SUPERSEDED = "superseded", "Superseded by"
        INSTEAD = "instead", "May be used instead"

    part = models.ForeignKey(Part, on_delete=models.CASCADE, related_name="stand_ins")
    other = models.ForeignKey(Part, on_delete=models.PROTECT, related_name="stands_in_for")
    kind = models.CharField(max_length=10, choices=Kind.choices)
    reason = models.CharField(max_length=120)

    class Meta:
        ordering = ["kind", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["part", "other"], name="stand_in_once_for_a_part"),
            models.UniqueConstraint(fields=["part"], condition=Q(kind="superseded"), name="superseded_by_one_part"),
            models.CheckConstraint(
                condition=~Q(part=F("other")),
                name="stand_in_is_another_part",
                violation_error_message="A part cannot stand in for itself.",
            ),
            models.CheckConstraint(condition=~Q(reason=""), name="stand_in_says_why"),
        ]

    def __str__(self) -> str:
        return f"{self.part}: {self.get_kind_display()} {self.other}"
