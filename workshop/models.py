"""The shop's records, gathered here for Django; each lives in the folder of its area."""

from workshop.charges.models import Agreement, FinalCharges, LabourLine, ServicePrice, TaxRules
from workshop.customers.models import Bike, Customer
from workshop.customers.privacy_models import Erasure, RetentionPolicy
from workshop.intervals.models import (
    CounterReading,
    IntervalPolicy,
    Ride,
    ServiceDone,
    UnitRule,
    WeeklyHours,
)
from workshop.issued.models import Document
from workshop.kept.models import DueUnit, LastVisit, UnitChanged
from workshop.links.models import CustomerLink
from workshop.promise.models import BenchCapacity, ClosedDay, PromiseHeard
from workshop.reminders.models import Decision, Message, RemindedService, ReminderText
from workshop.signed.models import ChecklistSignature
from workshop.staff.models import Shop, User
from workshop.staff.second_factor_models import RecoveryCode, SecondFactor
from workshop.stock.models import PriceChange, StockItem, StockLevel, StockMovement
from workshop.stock.purchase_models import OrderLine, PurchaseOrder
from workshop.suspension.measured_models import ForkMeasurement
from workshop.suspension.models import ChangeOfOwner, Fitting, SuspensionUnit
from workshop.tickets.models import (
    ConditionNote,
    FindingAnswer,
    FreeFinding,
    PartLine,
    Photo,
    SettingsRecord,
    StateMove,
    Ticket,
    TicketEvent,
    TicketRun,
)
from workshop.tickets.words import TicketWords
from workshop.torque.models import BoltRecord, TorqueTool

__all__ = [
    "Agreement",
    "BenchCapacity",
    "Bike",
    "BoltRecord",
    "ChangeOfOwner",
    "ChecklistSignature",
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
    "FindingAnswer",
    "Fitting",
    "ForkMeasurement",
    "FreeFinding",
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
