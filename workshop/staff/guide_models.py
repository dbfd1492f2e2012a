"""How a new shop is being set up: what the guide cannot see for itself."""

from __future__ import annotations

from django.db import models

from workshop.staff.models import Shop


class SetUpGuide(models.Model):
    """The owner's first page of a shop that was opened with it, until it is left. What is done it sees for itself."""

    shop = models.OneToOneField(Shop, on_delete=models.CASCADE, related_name="set_up_guide")
    later = models.JSONField(default=list, blank=True, help_text="Keys of the steps that were left for later.")
    left_at = models.DateTimeField(null=True, blank=True)
    device_seen_at = models.DateTimeField(
        null=True, blank=True, help_text="When a device other than the server first signed in over HTTPS."
    )

    def __str__(self) -> str:
        return f"Set-up of {self.shop}"
