"""The register of what the shop does with data about people: why, what is kept, of whom, and for how long.

What is kept is read from the tables, so that a new column stands in it from its first day; why and how long is said
here, and a test fails on a table about people that no line names. What such a register has to say: Regulation (EU)
2016/679, article 30 (1). A shop's own lawyer or authority has the last word; other countries ask for other things.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.apps import apps
from django.db import models

# Nothing of a person: keys, and what the app needs to keep order among rows.
_OF_THE_APP = frozenset({
    "client_id", "data_digest", "digest", "handled", "key", "look_again_on", "place", "position", "search_text",
    "secret_digest", "sent_id", "shop", "step", "turn", "version",
})  # fmt: skip

UNTIL_ERASED = "Until the person is erased"
WITHOUT_THEM = "Stays for good; once the person is erased, without them"
AS_STAFF = "As long as they work here; their name stays at what they did"


@dataclass(frozen=True)
class Activity:
    """One purpose, and the tables that serve it, by their names."""

    title: str
    why: str
    whose: str
    who_sees: str
    kept: str
    tables: tuple[str, ...]


ACTIVITIES: Sequence[Activity] = (
    Activity(
        "Knowing a customer and reaching them",
        "To book in, to ask before work costs more, to say that something is ready.",
        "Customers and whom they name as a contact",
        "Counter, bench and owner",
        UNTIL_ERASED,
        ("Customer", "LastVisit", "Contact", "Visit", "StoodUnder", "OldNumber"),
    ),
    Activity(
        "Bikes, forks and shocks",
        "To set a unit up for its rider, and to know it again when it comes back.",
        "Customers: their weight, how much and where they ride",
        "Counter, bench and owner",
        WITHOUT_THEM,
        ("Bike", "SuspensionUnit", "Fitting", "ChangeOfOwner", "ForkMeasurement", "SettingsRecord", "WeeklyHours",
         "Ride", "CounterReading", "UnitRule"),
    ),
    Activity(
        "The work on a ticket",
        "To repair what was asked for, to show what was found and done, and to answer for it afterwards.",
        "Customers; staff, who did what and when",
        "Counter, bench and owner",
        WITHOUT_THEM,
        ("Ticket", "StateMove", "TicketEvent", "TicketRun", "Run", "Tick", "Reading", "ToldOtherwise", "StepTimer",
         "MinutesCorrection", "ConditionNote", "FreeFinding", "FindingAnswer", "Photo", "PartLine", "BoltRecord",
         "OldPart", "PromiseHeard", "TicketWords", "StockMovement", "BatchMovement", "ServiceDone"),
    ),
    Activity(
        "Papers, letters and links",
        "To give the customer an estimate, a report and a receipt they can read again.",
        "Customers",
        "Counter, bench and owner; who has the link of a ticket, until it ends",
        "Papers and letters until the person is erased; a link until it ends",
        ("Document", "Message", "CustomerLink", "Agreement", "Variant", "VariantLine"),
    ),
    Activity(
        "Money",
        "To charge, to be paid, and to keep the books that tax law asks for.",
        "Customers",
        "Counter and owner; whoever keeps the shop’s books",
        "Sums for good. A receipt has to be kept as long as the law of the country says, also when a person is erased",
        ("LabourLine", "Discount", "FinalCharges", "HandOver", "HandOverTakenBack", "Payment", "Receipt",
         "ReceiptTicket"),
    ),
    Activity(
        "Reminding of a service that is due",
        "To tell a customer, who may say no, that their fork or shock is due.",
        "Customers who did not say no",
        "Counter and owner",
        UNTIL_ERASED,
        ("DueUnit", "Decision", "RemindedService"),
    ),
    Activity(
        "Files of customers that were brought in",
        "To move into this app from a list the shop had before.",
        "Customers",
        "Owner",
        "Until the person is erased; the rows of a file until it is thrown away",
        ("Sheet", "SheetChunk", "SheetRow"),
    ),
    Activity(
        "Erasing",
        "To show that a person was erased when they asked, and that their files went.",
        "Those who were erased, by a number only",
        "Owner",
        "For good",
        ("Erasure", "ErasureAhead"),
    ),
    Activity(
        "Who looked at a customer",
        "To answer a customer, or the owner, who asks who opened their page.",
        "Staff",
        "Owner",
        "Two years",
        ("RecordLook",),
    ),
    Activity(
        "Signing in",
        "To let in who works here, and nobody else.",
        "Staff",
        "Each of them their own; the owner those of all",
        AS_STAFF,
        ("User", "SecondFactor", "RecoveryCode", "QuickCode", "WrongCode", "Device", "KnownBrowser", "OpenSession"),
    ),
    Activity(
        "The security log and what is tried from outside",
        "To see afterwards who changed, took away or tried what.",
        "Staff; whoever tries to come in, by their address in the network",
        "Owner",
        "The log for good; tries of links and passwords until they do not count any more; sign-ins for ninety days",
        ("SecurityEvent", "WrongLink", "AccessAttempt", "AccessLog"),
    ),
    Activity(
        "Who works when",
        "To promise no day on which nobody is there.",
        "Mechanics",
        "Counter, bench and owner",
        AS_STAFF,
        ("MechanicWeek", "Absence", "BenchCapacity"),
    ),
    Activity(
        "Suppliers",
        "To order parts.",
        "Whom a supplier names for orders",
        "Stores and owner",
        "As long as the shop buys there",
        ("Supplier", "PurchaseOrder", "OrderStep"),
    ),
)  # fmt: skip


@dataclass(frozen=True)
class Kept:
    """A table as it stands in the register."""

    name: str
    columns: tuple[str, ...]


@dataclass(frozen=True)
class Entry:
    activity: Activity
    kept: tuple[Kept, ...]


def register() -> list[Entry]:
    """Every purpose with the columns of its tables as they are today."""
    return [Entry(one, tuple(_kept(table_named(name)) for name in one.tables)) for one in ACTIVITIES]


def table_named(name: str) -> type[models.Model]:
    """Raises LookupError where there is none: a table that was renamed is renamed above."""
    for app in ("workshop", "diagnosis", "axes"):
        try:
            return apps.get_model(app, name)
        except LookupError:
            continue
    raise LookupError(f"No table is named {name}.")


def _kept(model: type[models.Model]) -> Kept:
    columns = tuple(
        str(field.verbose_name)
        for field in model._meta.local_concrete_fields
        if not field.primary_key and field.name not in _OF_THE_APP
    )
    name = str(model._meta.verbose_name)
    return Kept(name[:1].upper() + name[1:], columns)
