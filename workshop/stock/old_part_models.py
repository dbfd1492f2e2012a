"""What came off a unit and is not simply thrown away: kept for the customer, or sent in for warranty."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q

from workshop.tickets.models import Ticket


class OldPart(models.Model):
    """A part that came off, and where it is. Each change is a line in the ticket's logbook."""

    class State(models.TextChoices):
        KEPT = "kept", "Kept for the customer"
        GIVEN = "given", "Given to the customer"
        THROWN_AWAY = "thrown_away", "Thrown away"
        SENT_IN = "sent_in", "Sent in for warranty"
        ACCEPTED = "accepted", "Warranty accepted"
        REFUSED = "refused", "Warranty refused"
        CAME_BACK = "came_back", "Came back from warranty"
        REPLACED = "replaced", "Replaced under warranty"

    ticket = models.ForeignKey(Ticket, on_delete=models.CASCADE, related_name="old_parts")
    words = models.CharField(max_length=120)
    state = models.CharField(max_length=12, choices=State.choices, default=State.KEPT)
    note = models.CharField(max_length=120, blank=True, help_text="Who agreed that it goes, or where it was sent.")
    agreed_on = models.DateField(null=True, blank=True, help_text="When they agreed that it is thrown away.")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField(help_text="Since when it is so.")
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["pk"]
        indexes = [
            models.Index(
                fields=["at"],
                condition=Q(state__in=["kept", "sent_in", "accepted", "refused", "came_back"]),
                name="old_parts_still_ours",
            )
        ]
        constraints = [
            models.CheckConstraint(condition=~Q(words=""), name="old_part_is_named"),
            models.CheckConstraint(
                condition=Q(
                    state__in=[
                        "kept",
                        "given",
                        "thrown_away",
                        "sent_in",
                        "accepted",
                        "refused",
                        "came_back",
                        "replaced",
                    ]
                ),
                name="old_part_state_is_known",
            ),
            models.CheckConstraint(
                condition=Q(agreed_on__isnull=True) | Q(state="thrown_away"), name="old_part_agreed_only_to_its_end"
            ),
            models.CheckConstraint(
                condition=~Q(state__in=["thrown_away", "sent_in"]) | ~Q(note=""),
                name="old_part_goes_on_somebodys_word",
                violation_error_message="Say who agreed that it goes, or where it was sent.",
            ),
        ]

    def __str__(self) -> str:
        return self.words
