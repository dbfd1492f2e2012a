"""What was seen on a unit that no step asks for, and what answers a finding that nothing on the bench answers."""

from __future__ import annotations

import uuid

from django.conf import settings
from django.db import models
from django.db.models import Q

from diagnosis.layout_plans import BY_THE_WAY, DANGER, FINDINGS
from diagnosis.models import Step, Tick
from workshop.tickets.models.part_line import PartLine
from workshop.tickets.models.ticket import Ticket


class FreeFinding(models.Model):
    """Something seen that no step asks for: what, where, and how bad. It is withdrawn, never edited."""

    class Kind(models.TextChoices):
        BY_THE_WAY = BY_THE_WAY, FINDINGS[BY_THE_WAY]
        DANGER = DANGER, FINDINGS[DANGER]

    ticket = models.ForeignKey(Ticket, on_delete=models.CASCADE, related_name="free_findings")
    step = models.ForeignKey(
        Step, on_delete=models.PROTECT, null=True, blank=True, related_name="+", help_text="Where in a run it was seen."
    )
    kind = models.CharField(max_length=12, choices=Kind.choices)
    place = models.CharField(max_length=80)
    text = models.CharField(max_length=300)
    client_id = models.UUIDField(unique=True, default=uuid.uuid4)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=Q(kind__in=[BY_THE_WAY, DANGER]), name="free_finding_says_how_bad"),
            models.CheckConstraint(condition=~Q(place="") & ~Q(text=""), name="free_finding_says_what_and_where"),
        ]

    def __str__(self) -> str:
        return f"{self.place}: {self.text}"


class FindingAnswer(models.Model):
    """What somebody said answers a finding: what put it right, the customer's no, or why it is left.

    The latest that was not withdrawn counts. A finding of a step is named by the tick that found it.
    """

    class How(models.TextChoices):
        MENDED = "mended", "Put right"
        DECLINED = "declined", "The customer said no"
        LEFT = "left", "Released without it"

    ticket = models.ForeignKey(Ticket, on_delete=models.CASCADE, related_name="finding_answers")
    tick = models.ForeignKey(Tick, on_delete=models.CASCADE, null=True, blank=True, related_name="+")
    free = models.ForeignKey(FreeFinding, on_delete=models.CASCADE, null=True, blank=True, related_name="answers")
    how = models.CharField(max_length=10, choices=How.choices)
    by_tick = models.ForeignKey(
        Tick,
        on_delete=models.CASCADE,
        null=True,
        blank=True,
        related_name="+",
        help_text="Work or proof after it.",
    )
    by_part = models.ForeignKey(
        PartLine, on_delete=models.CASCADE, null=True, blank=True, related_name="+", help_text="A part fitted for it."
    )
    words = models.CharField(max_length=300, blank=True)
    client_id = models.UUIDField(unique=True, default=uuid.uuid4)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(tick__isnull=True, free__isnull=False) | Q(tick__isnull=False, free__isnull=True),
                name="finding_answer_is_of_one_finding",
            ),
            models.CheckConstraint(
                condition=(
                    Q(how="mended", by_tick__isnull=False, by_part__isnull=True)
                    | Q(how="mended", by_tick__isnull=True, by_part__isnull=False)
                    | (Q(how="declined", by_tick__isnull=True, by_part__isnull=True) & ~Q(words=""))
                    | Q(how="left", by_tick__isnull=True, by_part__isnull=True)
                ),
                name="finding_answer_names_what_answers",
            ),
        ]

    def __str__(self) -> str:
        return self.get_how_display()
