"""Tickets and what hangs on them."""

from workshop.tickets.models.arrival import ConditionNote, SettingsRecord
from workshop.tickets.models.finding import FindingAnswer, FreeFinding
from workshop.tickets.models.part_line import PartLine
from workshop.tickets.models.photo import Photo
from workshop.tickets.models.ticket import StateMove, Ticket, TicketEvent, TicketRun

__all__ = [
    "ConditionNote",
    "FindingAnswer",
    "FreeFinding",
    "PartLine",
    "Photo",
    "SettingsRecord",
    "StateMove",
    "Ticket",
    "TicketEvent",
    "TicketRun",
]
