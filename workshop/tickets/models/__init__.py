"""Tickets and what hangs on them."""

from workshop.tickets.models.arrival import ConditionNote, SettingsRecord
from workshop.tickets.models.contact import Contact
from workshop.tickets.models.finding import FindingAnswer, FreeFinding
from workshop.tickets.models.part_line import PartLine
from workshop.tickets.models.photo import Photo
from workshop.tickets.models.stood_under import StoodUnder
from workshop.tickets.models.ticket import StateMove, Ticket, TicketEvent, TicketRun
from workshop.tickets.models.visit import Visit

__all__ = [
    "ConditionNote",
    "Contact",
    "FindingAnswer",
    "FreeFinding",
    "PartLine",
    "Photo",
    "SettingsRecord",
    "StateMove",
    "StoodUnder",
    "Ticket",
    "TicketEvent",
    "TicketRun",
    "Visit",
]
