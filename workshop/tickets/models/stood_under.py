"""That a ticket stood under another customer before it was put right."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from workshop.customers.models import Customer
from workshop.tickets.models.ticket import Ticket


class StoodUnder(models.Model):
    """Until when a ticket stood under a customer it was not of. Who is erased leaves the papers of then as well."""

    ticket = models.ForeignKey(Ticket, on_delete=models.CASCADE, related_name="stood_under")
    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="tickets_before")
    until = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"{self.ticket}, under {self.customer} before"
