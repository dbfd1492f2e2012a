"""What was said about a ticket: a note for the shop itself, a call, and that it is ready."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from workshop.tickets.models.ticket import Ticket


class Contact(models.Model):
    """A note, a call or a message; added, never edited. `ready_since` is the moment it became ready that was told.

    A message about a visit has one on each ticket it speaks of; `again` where that ticket's readiness was told before.
    """

    class Kind(models.TextChoices):
        NOTE = "note", "Note"
        CALL = "call", "Call"
        READY_EMAIL = "ready_email", "Ready, by email"
        READY_TEXT = "ready_text", "Ready, by text message"

    class Outcome(models.TextChoices):
        REACHED = "reached", "reached"
        NO_ANSWER = "no_answer", "no answer"
        MESSAGE_LEFT = "message_left", "message left"

    READY_KINDS = (Kind.READY_EMAIL, Kind.READY_TEXT)

    ticket = models.ForeignKey(Ticket, on_delete=models.CASCADE, related_name="contacts")
    kind = models.CharField(max_length=12, choices=Kind.choices)
    outcome = models.CharField(max_length=12, choices=Outcome.choices, blank=True)
    words = models.TextField(blank=True, help_text="What was noted or said; of a message its text as it was told.")
    ready_since = models.DateTimeField(null=True, blank=True)
    again = models.BooleanField(default=False)
    message = models.ForeignKey(
        "workshop.Message", on_delete=models.PROTECT, null=True, blank=True, related_name="contacts"
    )
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(kind__in=["note", "call", "ready_email", "ready_text"]),
                name="contact_kind_is_known",
            ),
            models.CheckConstraint(
                condition=models.Q(kind="call", outcome__in=["reached", "no_answer", "message_left"])
                | (~models.Q(kind="call") & models.Q(outcome="")),
                name="a_call_says_how_it_ended",
                violation_error_message="Say how the call ended: reached, no answer, or message left.",
            ),
            models.CheckConstraint(
                condition=~models.Q(kind="note") | ~models.Q(words=""),
                name="a_note_has_words",
                violation_error_message="Enter the note.",
            ),
            models.CheckConstraint(
                condition=models.Q(kind__in=["ready_email", "ready_text"], ready_since__isnull=False)
                | models.Q(kind__in=["note", "call"], ready_since__isnull=True),
                name="told_ready_says_since_when",
            ),
            models.CheckConstraint(
                condition=models.Q(kind="ready_email", message__isnull=False)
                | (~models.Q(kind="ready_email") & models.Q(message__isnull=True)),
                name="told_by_email_has_its_message",
            ),
            models.UniqueConstraint(
                fields=["ticket", "ready_since"],
                condition=models.Q(kind="ready_email", again=False),
                name="told_ready_by_email_once",
            ),
            models.UniqueConstraint(fields=["message", "ticket"], name="a_message_once_on_a_ticket"),
        ]

    def __str__(self) -> str:
        return f"{self.ticket}: {self.get_kind_display()}"

    @property
    def went_wrong(self) -> bool:
        """Whether it is an email that came back, was cut off or cancelled."""
        return self.message is not None and self.message.state in ("failed", "uncertain", "called_off")
