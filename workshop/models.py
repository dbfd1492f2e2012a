"""The shop's records, gathered here for Django; each lives in the folder of its area."""

from workshop.charges.models import Agreement, FinalCharges, LabourLine, ServicePrice, TaxRules
from workshop.customers.models import Bike, Customer
from workshop.customers.privacy_models import Erasure, RetentionPolicy
from workshop.documents.models import Document
from workshop.intervals.models import (
    CounterReading,
    IntervalPolicy,
    Ride,
    ServiceDone,
    UnitRule,
    WeeklyHours,
)
from workshop.kept.models import DueUnit, LastVisit, StockLevel, UnitChanged
from workshop.portal.models import CustomerLink
from workshop.promise.models import BenchCapacity, ClosedDay, PromiseHeard
from workshop.reminders.models import Decision, Message, RemindedService, ReminderText
from workshop.searching.models import TicketWords
from workshop.staff.models import Shop, User
from workshop.staff.second_factor_models import RecoveryCode, SecondFactor
from workshop.stores.models import PriceChange, StockItem, StockMovement
from workshop.stores.purchase_models import OrderLine, PurchaseOrder
from workshop.stores.torque_models import BoltRecord, TorqueTool
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
from workshop.units.models import ChangeOfOwner, Fitting, SuspensionUnit

__all__ = [
    "Agreement",
    "BenchCapacity",
    "Bike",
    "BoltRecord",
    "ChangeOfOwner",
    "ClosedDay",
    "ConditionNote",
    "CounterReading",
    "Customer",
    "CustomerLink",
    "Decision",
    "Document",
    "DueUnit",
    "Erasure",
    "FinalCharges",
    "Fitting",
    "IntervalPolicy",
    "LabourLine",
    "LastVisit",
    "Message",
    "OrderLine",
    "PartLine",
    "Photo",
    "PriceChange",
    "PromiseHeard",
    "PurchaseOrder",
    "RecoveryCode",
    "RemindedService",
    "ReminderText",
    "RetentionPolicy",
    "Ride",
    "SecondFactor",
    "ServiceDone",
    "ServicePrice",
    "SettingsRecord",
    "Shop",
    "StateMove",
    "StockItem",
    "StockLevel",
    "StockMovement",
    "SuspensionUnit",
    "TaxRules",
    "Ticket",
    "TicketEvent",
    "TicketRun",
    "TicketWords",
    "TorqueTool",
    "UnitChanged",
    "UnitRule",
    "User",
    "WeeklyHours",
]
