"""Sessions as a person sees them: whose, since when, on what, last seen when; and browsers that are known."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.conf import settings
from django.contrib.sessions.base_session import AbstractBaseSession
from django.db import models

from workshop.staff.device_models import Device


class OpenSession(AbstractBaseSession):
    """A session of the web, with what tells it from others. Without a person it is one that nobody signed in to.

    `expire_date` moves on with what its person does: it is the end of the idle time, or of the longest time.
    """

    user = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="open_sessions", null=True, blank=True
    )
    device = models.ForeignKey(Device, on_delete=models.CASCADE, related_name="+", null=True, blank=True)
    began_at = models.DateTimeField()
    last_seen_at = models.DateTimeField()
    address = models.CharField(max_length=64, blank=True)
    browser = models.CharField(max_length=80, blank=True, help_text="What it runs on, in words.")

    if TYPE_CHECKING:
        user_id: int | None
        device_id: int | None

    def __str__(self) -> str:
        return f"Session of {self.user_id}"


class KnownBrowser(models.Model):
    """A browser in which somebody gave their password before. Of the secret in its cookie only a digest is kept."""

    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="known_browsers")
    digest = models.CharField(max_length=64, help_text="SHA-256 of the secret in the browser’s cookie.")
    browser = models.CharField(max_length=80, blank=True)
    address = models.CharField(max_length=64, blank=True)
    first_at = models.DateTimeField()
    to_be_told = models.BooleanField(default=False, help_text="Its person has not seen yet that it is new.")

    class Meta:
        ordering = ["pk"]
        constraints = [models.UniqueConstraint(fields=["user", "digest"], name="browser_known_once")]

    def __str__(self) -> str:
        return f"Browser of {self.user}"
