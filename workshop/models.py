"""The shop's records, gathered here for Django; each lives in the folder of its area."""

from workshop.charges.models import Agreement, Discount, FinalCharges, LabourLine, ServicePrice, TaxRate, TaxRules
from workshop.charges.variant_models import Variant, VariantLine
from workshop.customers.models import Bike, Customer
from workshop.customers.privacy_models import Erasure, ErasureAhead, RecordLook, RetentionPolicy
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
from workshop.links.models import CustomerLink, WrongLink
from workshop.manuals.models import ManualPage
from workshop.promise.models import Absence, BenchCapacity, ClosedDay, MechanicWeek, OpeningHours, PromiseHeard
from workshop.reminders.mail_models import MailSettings
from workshop.reminders.models import Decision, Message, ReadyText, RemindedService, ReminderText
from workshop.running.scheduled_models import ScheduledRun
from workshop.running.shipped_models import ShippedEdition
from workshop.sheets.models import OldNumber, Sheet, SheetChunk, SheetRow
from workshop.signed.models import ChecklistSignature
from workshop.staff.device_models import Device, QuickCode, WrongCode
from workshop.staff.guide_models import SetUpGuide
from workshop.staff.models import Shop, User
from workshop.staff.second_factor_models import RecoveryCode, SecondFactor
from workshop.staff.security_log_models import SecurityEvent
from workshop.staff.session_models import KnownBrowser, OpenSession
from workshop.staff.shared_key_models import SharedKey
from workshop.stock.batch_models import Batch, BatchLevel, BatchMovement
from workshop.stock.delivery_models import Delivery, DeliveryLine, SentBack, SupplierCredit
from workshop.stock.models import PriceChange, StockItem, StockLevel, StockMovement
from workshop.stock.old_part_models import OldPart
from workshop.stock.price_models import NewPrice, PriceUpdate
from workshop.stock.purchase_models import OrderLine, OrderStep, PurchaseOrder
from workshop.stock.stock_take_models import ShelfCount, StockTake
from workshop.stock.supplier_models import BasketLine, Supplier, SupplierPart
from workshop.suspension.measured_models import ForkMeasurement
from workshop.suspension.models import ChangeOfOwner, Fitting, SuspensionUnit
from workshop.tickets.models import (
    ConditionNote,
    Contact,
    FindingAnswer,
    FreeFinding,
    PartLine,
    Photo,
    SettingsRecord,
    StateMove,
    StoodUnder,
    Ticket,
    TicketEvent,
    TicketRun,
    Visit,
)
from workshop.tickets.words import TicketWords
from workshop.till.models import (
    DrawerCount,
    HandOver,
    HandOverTakenBack,
    Payment,
    Receipt,
    ReceiptSeries,
    ReceiptSettings,
    ReceiptTicket,
)
from workshop.torque.care_models import Calibration, ToolCheck, ToolLoan
from workshop.torque.models import BoltRecord, TorqueTool

__all__ = [
    "Absence",
    "Agreement",
    "BasketLine",
    "Batch",
    "BatchLevel",
    "BatchMovement",
    "BenchCapacity",
    "Bike",
    "BoltRecord",
    "Calibration",
    "ChangeOfOwner",
    "ChecklistSignature",
    "ClosedDay",
    "ConditionNote",
    "Contact",
    "CounterReading",
    "Customer",
    "CustomerLink",
    "Decision",
    "Delivery",
    "DeliveryLine",
    "Device",
    "Discount",
    "Document",
    "DrawerCount",
    "DueUnit",
    "Erasure",
    "ErasureAhead",
    "FinalCharges",
    "FindingAnswer",
    "Fitting",
    "ForkMeasurement",
    "FreeFinding",
    "HandOver",
    "HandOverTakenBack",
    "IntervalPolicy",
    "KnownBrowser",
    "LabourLine",
    "LastVisit",
    "MailSettings",
    "ManualPage",
    "MechanicWeek",
    "Message",
    "NewPrice",
    "OldNumber",
    "OldPart",
    "OpenSession",
    "OpeningHours",
    "OrderLine",
    "OrderStep",
    "PartLine",
    "Payment",
    "Photo",
    "PriceChange",
    "PriceUpdate",
    "PromiseHeard",
    "PurchaseOrder",
    "QuickCode",
    "ReadyText",
    "Receipt",
    "ReceiptSeries",
    "ReceiptSettings",
    "ReceiptTicket",
    "RecordLook",
    "RecoveryCode",
    "RemindedService",
    "ReminderText",
    "RetentionPolicy",
    "Ride",
    "ScheduledRun",
    "SecondFactor",
    "SecurityEvent",
    "SentBack",
    "ServiceDone",
    "ServicePrice",
    "SetUpGuide",
    "SettingsRecord",
    "SharedKey",
    "Sheet",
    "SheetChunk",
    "SheetRow",
    "ShelfCount",
    "ShippedEdition",
    "Shop",
    "StateMove",
    "StockItem",
    "StockLevel",
    "StockMovement",
    "StockTake",
    "StoodUnder",
    "Supplier",
    "SupplierCredit",
    "SupplierPart",
    "SuspensionUnit",
    "TaxRate",
    "TaxRules",
    "Ticket",
    "TicketEvent",
    "TicketRun",
    "TicketWords",
    "ToolCheck",
    "ToolLoan",
    "TorqueTool",
    "UnitChanged",
    "UnitRule",
    "User",
    "Variant",
    "VariantLine",
    "Visit",
    "WeeklyHours",
    "WrongCode",
    "WrongLink",
]
