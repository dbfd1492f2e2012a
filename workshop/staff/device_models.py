"""Shared devices that an owner let in, the short codes by which people change at them, and wrong tries."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q

from workshop.staff.models import Shop


class Device(models.Model):
    """A tablet at which people may change by a short code. Of the secret in its cookie only a digest is kept."""

    shop = models.ForeignKey(Shop, on_delete=models.PROTECT, related_name="devices")
    name = models.CharField(max_length=60)
    digest = models.CharField(max_length=64, unique=True, help_text="SHA-256 of the secret in the device’s cookie.")
    let_in_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    let_in_at = models.DateTimeField()
    last_used_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["shop", "name"],
                condition=Q(ended_at__isnull=True),
                name="device_named_once",
                violation_error_message="There is a device of that name already. Choose another.",
            )
        ]

    def __str__(self) -> str:
        return self.name


class QuickCode(models.Model):
    """Somebody's short code, hashed like a password. It opens the bench and the counter on a device that was let in."""

    user = models.OneToOneField(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="quick_code")
    hashed = models.CharField(max_length=200)
    set_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"Short code of {self.user}"


class WrongCode(models.Model):
    """A try of somebody's short code that was wrong. The next right one takes theirs away."""

    device = models.ForeignKey(Device, on_delete=models.CASCADE, related_name="wrong_codes")
    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="wrong_codes")
    at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]
        indexes = [models.Index(fields=["device", "at"], name="wrong_codes_of_a_device")]

    def __str__(self) -> str:
        return f"Wrong code for {self.user}"
