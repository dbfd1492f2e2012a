"""The mail server that an owner set up on the screen, and the test letters that were sent to try one."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q

from workshop.staff.models import Shop

PORTS = "Enter a port from 1 to 65535."


class MailSettings(models.Model):
    """A mail server and its test letter. It is used once the letter's code came back; at most one of a shop is."""

    class Security(models.TextChoices):
        STARTTLS = "starttls", "STARTTLS (usual, port 587)"
        TLS = "tls", "TLS from the start (port 465)"
        NONE = "none", "None (a server on this machine only)"

    shop = models.ForeignKey(Shop, on_delete=models.CASCADE, related_name="mail_settings")
    by_server = models.BooleanField(default=False, help_text="A letter to try what the server’s environment sets.")
    host = models.CharField(max_length=253, blank=True)
    port = models.PositiveIntegerField(default=587)
    security = models.CharField(max_length=8, choices=Security.choices, default=Security.STARTTLS)
    username = models.CharField(max_length=254, blank=True)
    password_sealed = models.TextField(blank=True, editable=False)
    sender = models.EmailField(blank=True, help_text="Empty: the shop’s own address.")
    letter_to = models.EmailField()
    code = models.CharField(max_length=6, help_text="What stands in the test letter.")
    instead_of = models.BigIntegerField(null=True, blank=True, help_text="Key of the settings kept when it was tried.")
    sent_at = models.DateTimeField()
    sent_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    arrived_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["shop", "by_server"], condition=Q(arrived_at__isnull=False), name="one_mail_server_in_use"
            ),
            models.CheckConstraint(
                condition=Q(port__gte=1, port__lte=65535), name="mail_port_is_one", violation_error_message=PORTS
            ),
        ]

    def __str__(self) -> str:
        return f"Mail of {self.shop} by {self.host or 'the server’s settings'}"
