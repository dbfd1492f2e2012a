"""The words that a ticket is found by."""

from __future__ import annotations

from django.db import models

from workshop.staff.models import Shop
from workshop.tickets.models import Ticket
from workshop.web.folded_field import FoldedTextField


class TicketWords(models.Model):
    """The folded words of a ticket, its customer and its unit in one line. The database's triggers write it.

    It knows its shop, so that the newest of one shop that hold a word are read from this table alone.
    """

    ticket = models.OneToOneField(Ticket, on_delete=models.CASCADE, primary_key=True, related_name="words")
    shop = models.ForeignKey(Shop, on_delete=models.CASCADE, related_name="+", db_index=False)
    text = FoldedTextField()

    class Meta:
        indexes = (models.Index(fields=["shop", "ticket"], name="words_of_shop_by_ticket"),)

    def __str__(self) -> str:
        return self.text
