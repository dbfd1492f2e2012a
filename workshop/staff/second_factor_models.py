"""The second factor of a sign-in, and the recovery codes for a lost phone."""

from __future__ import annotations

from django.conf import settings
from django.db import models


class SecondFactor(models.Model):
    """An authenticator app that a member of staff has set up. Each code counts once: `last_step` only rises."""

    user = models.OneToOneField(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="second_factor")
    secret = models.CharField(max_length=64, help_text="Base 32. It must be readable, to compute the codes.")
    last_step = models.PositiveBigIntegerField(default=0, help_text="The newest step whose code was used.")
    wrong_tries = models.PositiveSmallIntegerField(default=0)
    wait_until = models.DateTimeField(null=True, blank=True)
    set_up_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"Second factor of {self.user}"


class RecoveryCode(models.Model):
    """A code that stands in for the phone once. Only its digest is kept."""

    factor = models.ForeignKey(SecondFactor, on_delete=models.CASCADE, related_name="recovery_codes")
    digest = models.CharField(max_length=64, help_text="SHA-256; the code has some 79 random bits.")
    used_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [models.UniqueConstraint(fields=["factor", "digest"], name="recovery_code_once")]

    def __str__(self) -> str:
        return f"Recovery code {self.pk}"
