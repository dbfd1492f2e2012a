"""Links that let a customer see one ticket without signing in."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.utils import timezone

from workshop.tickets.models import Ticket


class CustomerLink(models.Model):
    """A link to one ticket. Only the digest of its secret is kept, so the table opens nothing by itself."""

    ticket = models.ForeignKey(Ticket, on_delete=models.CASCADE, related_name="customer_links")
    secret_digest = models.CharField(max_length=64, unique=True, help_text="SHA-256 of the secret in the address.")
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    expires_at = models.DateTimeField()
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    last_opened_at = models.DateTimeField(null=True, blank=True)
    opened_from = models.CharField(
        max_length=64, blank=True, default="", help_text="Keyed digest of the address it was last opened from."
    )

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(condition=models.Q(expires_at__gt=models.F("made_at")), name="link_expires_later"),
            models.CheckConstraint(
                condition=models.Q(withdrawn_by__isnull=True) | models.Q(withdrawn_at__isnull=False),
                name="withdrawn_link_says_when",
            ),
        ]

    def __str__(self) -> str:
        return f"Link to {self.ticket} until {self.expires_at:%Y-%m-%d}"

    @property
    def is_expired(self) -> bool:
        return self.expires_at <= timezone.now()


class WrongLink(models.Model):
    """A link that opened nothing, tried from somewhere; kept as long as it counts."""

    from_where = models.CharField(max_length=64, help_text="Keyed digest of the address.")
    at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]
        indexes = [models.Index(fields=["from_where", "at"], name="wrong_links_from_somewhere")]

    def __str__(self) -> str:
        return f"Wrong link at {self.at:%Y-%m-%d %H:%M}"
