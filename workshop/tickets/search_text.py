"""What a ticket can be found by, folded into one line."""

from __future__ import annotations

from workshop.tickets.models import Ticket
from workshop.web.folding import fold


def ticket_search_text(ticket: Ticket) -> str:
    return fold(str(ticket.number), ticket.complaint_words, ticket.notes)
