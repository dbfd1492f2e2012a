"""What the logbook holds in words becomes a kind and values, where it is exactly what that kind would have written.

The words below are those of the day of this migration and stay as they are, whatever the screens say later. A line
that fits none keeps its words; a value that cannot be read back is kept as {"words": …}; a label nobody knows stays
the key it was. Erasing a person takes all three away whole. Nothing is guessed.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from decimal import Decimal
from typing import Any

from django.db import migrations

A_BATCH = 500
STATES = {
    "Booked in": "booked_in",
    "On the bench": "on_the_bench",
    "Waiting": "waiting",
    "Ready": "ready",
    "Handed back": "handed_back",
    "Called off": "called_off",
}
WAITING_FOR = {"parts": "parts", "the customer's answer": "customer"}
MOMENTS = {"on arrival": "arrival", "at hand-back": "hand_back"}
LEVELS = {"lowers service": "lowers", "spring service": "spring", "full service": "full"}
DOCUMENTS = {
    "Work order": "work_order",
    "Label": "label",
    "Customer report": "customer_report",
    "Estimate": "estimate",
}
HOW = {
    "in the shop": "in_the_shop",
    "by phone": "phone",
    "by email or message": "message",
    "on the customer's page": "page",
}
BOLTS = {
    "Foot fastener, spring side": "foot_air_leg",
    "Foot fastener, damper side": "foot_damper_leg",
    "Axle": "axle",
    "Caliper bolts": "caliper",
    "Stem bolts": "stem",
}
# Units a shop may read these in, and what one of them is in SI (NIST SP 811; psi and in·lbf by definition of the inch,
# the pound and standard gravity).
TO_SI = {"psi": 6894.757293168361, "bar": 1e5, "kPa": 1e3, "mm": 1e-3, "in": 0.0254}
TORQUE_NM = {"N·m": 1.0, "in·lbf": 0.1129848290276167, "ft·lbf": 1.3558179483314004}


def one_of(words: dict[str, str]) -> str:
    return "|".join(re.escape(word) for word in sorted(words, key=len, reverse=True))


STATE = rf"({one_of(STATES)})(?: for ({one_of(WAITING_FOR)}))?"
AMOUNT = r"(-?[\d,]+\.\d\d) ([A-Z]{3})"
Values = dict[str, Any]


def moved(found: re.Match[str]) -> Values:
    before, before_for, after, after_for, reason = found.groups()
    return {
        "from_state": STATES[before],
        "from_waiting_for": WAITING_FOR.get(before_for or "", ""),
        "to_state": STATES[after],
        "waiting_for": WAITING_FOR.get(after_for or "", ""),
        "reason": reason or "",
    }


def plain(*names: str) -> Callable[[re.Match[str]], Values]:
    return lambda found: dict(zip(names, found.groups(), strict=True))


def amount(text: str) -> str:
    return str(Decimal(text.replace(",", "")))


def labour(found: re.Match[str]) -> Values:
    words, minutes, price, currency = found.groups()
    return {
        "words": words,
        "minutes": int(minutes) if minutes else None,
        "amount": amount(price),
        "currency": currency,
    }


def answer(found: re.Match[str]) -> Values:
    revision, price, currency, how = found.groups()
    return {"revision": int(revision), "amount": amount(price), "currency": currency, "how": HOW[how]}


def tightened(found: re.Match[str]) -> Values:
    bolt, number, unit, tool = found.groups()
    return {"bolt": BOLTS[bolt], "torque_nm": float(number) * TORQUE_NM[unit], "tool": tool or ""}


def levels(text: str) -> list[str] | None:
    names = [] if text == "no service" else text.split(", ")
    return [LEVELS[name] for name in names] if all(name in LEVELS for name in names) else None


def counts_as(found: re.Match[str]) -> Values | None:
    chosen = levels(found[1])
    return None if chosen is None else {"levels": chosen}


def unproved(found: re.Match[str]) -> Values:
    return {"missing": re.findall("“([^“”]+)”", found[1]), "more": int(found[2] or 0)}


LINES: list[tuple[str, str, Callable[[re.Match[str]], Values | None]]] = [
    ("booked_in", r"Booked in", plain()),
    ("moved", rf"{STATE}, now {STATE}(?:: (.+))?", moved),
    ("agreement_changed", r"Agreement changed", plain()),
    *(
        (f"settings_{done}", rf"Settings ({one_of(MOMENTS)}) {words}", lambda found: {"moment": MOMENTS[found[1]]})
        for done, words in (("written", "written down"), ("corrected", "corrected"))
    ),
    ("services_counted", r"Counts as (.+)", counts_as),
    ("ready_unproved", r"Ready without proof: (“[^“”]+”(?:, “[^“”]+”)*)(?: and (\d+) more)?", unproved),
    ("services_corrected", r"Services done corrected", plain()),
    ("part_quantity", r"Part: (.+)", plain("part")),
    *(
        (kind, rf"{words}: ([\d.]+) × (.+)", plain("quantity", "part"))
        for kind, words in (
            ("part_used", "Part used"), ("part_dropped", "Part dropped"), ("part_again", "Part needed again"),
        )
    ),
    ("parts_added", r"Parts added: ([\d.]+) × ((?:(?! × ).)+)", lambda found: {"parts": [[found[1], found[2]]]}),
    ("labour_added", rf"Labour added: (.+?)(?:, (\d+) min)?, {AMOUNT}", labour),
    ("labour_dropped", rf"Labour dropped: (.+?)(?:, (\d+) min)?, {AMOUNT}", labour),
    ("estimate_agreed", rf"Customer agreed to estimate (\d+), {AMOUNT}, ({one_of(HOW)})", answer),
    ("estimate_declined", rf"Customer declined estimate (\d+), {AMOUNT}, ({one_of(HOW)})", answer),
    ("charged", rf"Charged {AMOUNT}", lambda found: {"amount": amount(found[1]), "currency": found[2]}),
    (
        "document_issued",
        rf"({one_of(DOCUMENTS)}) issued, revision (\d+)",
        lambda found: {"kind": DOCUMENTS[found[1]], "revision": int(found[2])},
    ),
    ("link_made", r"Link for the customer made, good for (\d+) days", lambda found: {"days": int(found[1])}),
    ("link_withdrawn", r"Link for the customer withdrawn", plain()),
    ("checklist_begun", r"Checklist begun: (.+)", plain("title")),
    ("checklist_put_away", r"Checklist put away: (.+)", plain("title")),
    ("order_suggested", r"Suggested order taken: (.+)", plain("title")),
    ("order_handbook", r"Back to the handbook’s order: (.+)", plain("title")),
    ("minutes_corrected", r"Minutes corrected: (.+), ([\d.e+]+)", plain("step", "minutes")),
    ("bolt_tightened", rf"({one_of(BOLTS)}) tightened to ([\d.]+) ({one_of(dict.fromkeys(TORQUE_NM, ''))})(?: with (.+))?",
     tightened),
    ("bolt_countersigned", rf"({one_of(BOLTS)}) countersigned", lambda found: {"bolt": BOLTS[found[1]]}),
    ("photo_added", r"Photo added(?:: (.+))?", lambda found: {"caption": found[1] or ""}),
    ("condition_noted", r"Condition noted\. ([^:]+): (.+)", plain("place", "text")),
    # The demo's past, which has no more than where the ticket went.
    ("moved", rf"({one_of(STATES)})", lambda found: {"from_state": "", "to_state": STATES[found[1]]}),
    (
        "moved",
        rf"Now ({one_of({state.lower(): '' for state in STATES})}) \(demo\)",
        lambda found: {"from_state": "", "to_state": {k.lower(): v for k, v in STATES.items()}[found[1]]},
    ),
]  # fmt: skip
COMPILED = [(kind, re.compile(pattern, re.DOTALL), values) for kind, pattern, values in LINES]
LONGEST = 300  # as long as a line could be: a line of just that length may have been cut short


def line_from(text: str) -> tuple[str, Values] | None:
    """Kind and values of a line in words, or None where it is not exactly what a kind wrote."""
    if len(text) >= LONGEST:
        return None
    for kind, pattern, read in COMPILED:
        found = pattern.fullmatch(text)
        if found and (values := read(found)) is not None:
            return kind, values
    return None


def day(text: str) -> str | None:
    try:
        read = dt.datetime.strptime(text, "%a %d %b %Y").date()  # noqa: DTZ007 (a day has no zone)
    except ValueError:
        return None
    return read.isoformat()


def price(text: str) -> str | None:
    found = re.fullmatch(AMOUNT, text)
    return amount(found[1]) if found else None


def measured(text: str) -> float | None:
    found = re.fullmatch(rf"(-?[\d.]+) ({one_of(dict.fromkeys(TO_SI, ''))})", text)
    return float(found[1]) * TO_SI[found[2]] if found else None


def counted(text: str) -> int | None:
    return int(text) if re.fullmatch(r"-?\d{1,9}", text) else None


# Label to key, the words for nothing and what stands for it, and how the rest is read.
FIELDS: dict[str, tuple[str, str | None, Any, Callable[[str], Any]]] = {
    "Customer's words": ("complaint_words", None, "", str),
    "Complaints": ("complaints", "none", [], lambda text: [text]),
    "Promised for": ("promised_on", None, None, day),
    "Price ceiling": ("price_ceiling", "none", None, price),
    "Notes": ("notes", "none", "", str),
    "Services": ("services", "no service", [], levels),
    "Quantity": ("quantity", None, None, str),
    "Pressure": ("pressure_pa", "not read", None, measured),
    "Sag": ("sag_m", "not read", None, measured),
    "Rest depth": ("rest_travel_m", "not read", None, measured),
    "Rebound, clicks from closed": ("rebound_clicks", "not read", None, counted),
    "Compression, clicks from closed": ("compression_clicks", "not read", None, counted),
    "High-speed compression, clicks from closed": ("high_compression_clicks", "not read", None, counted),
    "Spacers": ("spacers", "not read", None, counted),
    "Remarks": ("remarks", "not read", "", str),
}


def changes_from(changes: dict[str, list[Any]]) -> dict[str, list[Any]]:
    """Changes by keys; what cannot be read back is kept in its words."""
    return dict(changed(label, values) for label, values in changes.items())


def changed(label: str, values: list[Any]) -> tuple[str, list[Any]]:
    if label not in FIELDS:
        return label, values
    key, words_for_none, none, read = FIELDS[label]

    def value(text: Any) -> Any:
        if text == words_for_none:
            return none
        found = read(text) if isinstance(text, str) else None
        return {"words": str(text)} if found is None else found

    return key, [value(text) for text in values]


def into_keys(apps: Any, schema_editor: Any) -> None:
    TicketEvent = apps.get_model("workshop", "TicketEvent")
    batch: list[Any] = []
    for event in TicketEvent.objects.filter(kind="").order_by("pk").iterator(2000):
        if read := line_from(event.text):
            event.kind, event.values = read
            event.text = ""
        event.changes = changes_from(event.changes)
        if read or event.changes:
            batch.append(event)
        if len(batch) == A_BATCH:
            write(TicketEvent, batch)
            batch = []
    write(TicketEvent, batch)


def write(model: Any, batch: list[Any]) -> None:
    if batch:
        model.objects.bulk_update(batch, ["kind", "values", "text", "changes"])


class Migration(migrations.Migration):
    dependencies = [
        ("workshop", "0026_logbook_by_keys"),
    ]

    operations = [
        migrations.RunPython(into_keys, migrations.RunPython.noop, elidable=True),
    ]
