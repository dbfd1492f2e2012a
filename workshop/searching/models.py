"""The words that a ticket is found by."""

from __future__ import annotations

from django.db import models

from workshop.searching.folded import FoldedTextField
from workshop.tickets.models import Ticket


class TicketWords(models.Model):
    """The folded words of a ticket, its customer and its unit in one line. The database's triggers write it."""

    ticket = models.OneToOneField(Ticket, on_delete=models.CASCADE, primary_key=True, related_name="words")
    text = FoldedTextField()

    def __str__(self) -> str:
        return self.text
