"""The shop's records, gathered here for Django; each lives in the folder of its area."""

from workshop.customers.models import Bike, Customer
from workshop.documents.models import Document
from workshop.staff.models import Shop, User
from workshop.stores.models import StockItem, StockMovement
from workshop.tickets.models import (
    ConditionNote,
    PartLine,
    Photo,
    SettingsRecord,
    StateMove,
    Ticket,
    TicketEvent,
    TicketRun,
)
from workshop.units.models import Fitting, SuspensionUnit

__all__ = [
    "Bike",
    "ConditionNote",
    "Customer",
    "Document",
    "Fitting",
    "PartLine",
    "Photo",
    "SettingsRecord",
    "Shop",
    "StateMove",
    "StockItem",
    "StockMovement",
    "SuspensionUnit",
    "Ticket",
    "TicketEvent",
    "TicketRun",
    "User",
]
