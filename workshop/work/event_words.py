"""What a line of the logbook says. Lines hold keys and values; their words are made here, when they are shown.

Nothing reads these words to decide anything: figures and erasure go by `kind` and by the keys of `changes`. A line
without a kind, and a value that is `{"words": …}`, were written in words before lines had keys; they are shown as
they are, and erasing a person takes them away whole.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from diagnosis.layout_plans import DANGER
from diagnosis.runs_told import told_words
from specs.facts import FACTS
from specs.models import ServiceKit
from specs.units import show
from workshop.charges.models import Agreement
from workshop.issued.models import Document
from workshop.staff.models import Shop
from workshop.stock.amounts import amount_of
from workshop.stock.old_part_models import OldPart
from workshop.suspension.unit_fields import UNIT_FIELDS, UnitField
from workshop.tickets.models import Contact, FindingAnswer, SettingsRecord, Ticket, TicketEvent
from workshop.tickets.models.part_line import Warranty
from workshop.tickets.settings_record import LABELS, settings_in_words
from workshop.tickets.visits import LOOSE_PARTS, way_in_words
from workshop.till.models import Payment
from workshop.torque.models import BOLT_LABELS
from workshop.web.number_words import price_in_words, shop_money

Values = Mapping[str, Any]
NONE = "none"


@dataclass(frozen=True)
class EventKind:
    """How a kind of line is put into words, and which of its values are the customer's own, to be erased whole."""

    words: Callable[[Values, Shop], str]
    personal: frozenset[str] = frozenset()


@dataclass(frozen=True)
class ChangedField:
    """What a changed value is called, how it is shown, and whether it is the customer's own, to be erased whole."""

    label: Callable[[], str]
    shown: Callable[[Any, Shop], str]
    personal: bool = False


@dataclass(frozen=True)
class LoggedChange:
    """A changed value in words."""

    label: str
    before: str
    after: str


@dataclass(frozen=True)
class LogLine:
    """A line of the logbook as it is shown."""

    event: TicketEvent
    words: str
    changes: list[LoggedChange]


def state_in_words(state: str, waiting_for: str = "") -> str:
    """A state as people say it, with what is waited for."""
    words = str(Ticket.State(state).label)
    return f"{words} for {Ticket.WaitingFor(waiting_for).label}" if waiting_for else words


def levels_in_words(levels: Iterable[str]) -> str:
    """Services by their names, the smallest first."""
    chosen = set(levels)
    return ", ".join(str(level.label).lower() for level in ServiceKit.Level if level in chosen) or "no service"


def _caption(values: Values) -> str:
    return f": {values['caption']}" if values.get("caption") else ""


def _why(values: Values) -> str:
    return f": {values['reason']}" if values.get("reason") else ""


def _of_a_photo(words: str) -> EventKind:
    return EventKind(lambda values, shop: words + _caption(values))


def _fixed(words: str) -> EventKind:
    """Words with values in them as they are."""
    return EventKind(lambda values, shop: words.format_map(values))


def _moved(values: Values, shop: Shop) -> str:
    before = state_in_words(values["from_state"], values.get("from_waiting_for", "")) if values["from_state"] else ""
    after = state_in_words(values["to_state"], values.get("waiting_for", ""))
    reason = f": {values['reason']}" if values.get("reason") else ""
    return f"{before}, now {after}{reason}" if before else f"{after}{reason}"


def _ready_unproved(values: Values, shop: Shop) -> str:
    named = ", ".join(f"“{words}”" for words in values["missing"])
    return f"Ready without proof: {named}" + (f" and {values['more']} more" if values.get("more") else "")


def _back_unsafe(values: Values, shop: Shop) -> str:
    signed = f" Signed for by {values['signed_by']}." if values.get("signed_by") else ""
    return f"Handed back unsafe, not to be ridden: {'; '.join(values['dangers'])}.{signed}"


def _kind_of_finding(values: Values) -> str:
    return "Danger, not to be ridden," if values["kind"] == DANGER else "By the way"


def _finding_answered(values: Values, shop: Shop) -> str:
    words = f": {values['words']}" if values.get("words") else ""
    return f"{values['finding']}: {str(FindingAnswer.How(values['how']).label).lower()}{words}"


def _settings(done: str) -> EventKind:
    return EventKind(
        lambda values, shop: f"Settings {str(SettingsRecord.Moment(values['moment']).label).lower()} {done}"
    )


def _labour(done: str) -> EventKind:
    def words(values: Values, shop: Shop) -> str:
        minutes = f", {values['minutes']} min" if values.get("minutes") else ""
        return f"Labour {done}: {values['words']}{minutes}, {_amount(values, shop)}"

    return EventKind(words)


def _answer(done: str) -> EventKind:
    def words(values: Values, shop: Shop) -> str:
        how = str(Agreement.How(values["how"]).label).lower()
        way = f": {values['way']}" if values.get("way") else ""
        return f"Customer {done} estimate {values['revision']}{way}, {_amount(values, shop)}, {how}"

    return EventKind(words)


def _amount(values: Values, shop: Shop) -> str:
    return shop_money(Decimal(values["amount"]), shop, values["currency"])


def _with_amount(words: str) -> EventKind:
    return EventKind(lambda values, shop: f"{words.format_map(values)}, {_amount(values, shop)}")


def _paid(values: Values, shop: Shop) -> str:
    if values["how"] == Payment.Kind.ACCOUNT:
        return f"Left open on account: {_amount(values, shop)}"
    return f"Paid: {_amount(values, shop)}, {str(Payment.Kind(values['how']).label).lower()}"


def _paid_back(values: Values, shop: Shop) -> str:
    return f"Paid back: {_amount(values, shop)}, {str(Payment.Kind(values['how']).label).lower()}: {values['reason']}"


def _parts(values: Values, shop: Shop) -> str:
    return "Parts added: " + ", ".join(
        amount_of(quantity, "".join(unit), title) for quantity, title, *unit in values["parts"]
    )


def _part_given(values: Values, shop: Shop) -> str:
    numbers = " and ".join(values["from"])
    return f"{values['part']} kept for this ticket first, before ticket {numbers}: {values['reason']}"


def _part(done: str) -> EventKind:
    """A line written before units were kept has none."""
    return EventKind(
        lambda values, shop: f"Part {done}: {amount_of(values['quantity'], values.get('unit', ''), values['part'])}"
    )


def _tightened(values: Values, shop: Shop) -> str:
    torque = show(values["torque_nm"], "torque", shop.unit_for("torque"))
    return f"{BOLT_LABELS[values['bolt']]} tightened to {torque}" + (
        f" with {values['tool']}" if values["tool"] else ""
    )


def _told(values: Values, shop: Shop) -> str:
    said = f"Said at the bench: {told_words(values['part'], values['value'])}"
    return f"{said} (“{values['note']}”)" if values.get("note") else said


def _rang(values: Values, shop: Shop) -> str:
    words = f": {values['words']}" if values.get("words") else ""
    return f"Rang {values['time']}, {Contact.Outcome(values['outcome']).label}{words}"


def _squeezed_in(values: Values, shop: Shop) -> str:
    told = []
    for number, promised, after, days in values["pushed"]:
        by = "one day" if days == 1 else f"{days} days"
        told.append(f"ticket {number}, promised {_a_day(promised, shop)}, by {by} to {_a_day(after, shop)}")
    return f"Taken although it pushes {'; '.join(told)}"


def _told_ready(values: Values, shop: Shop) -> str:
    price = f", {values['price']}" if values.get("price") else ""
    return f"Customer told. {Contact.Kind(values['way']).label}{price}"


def _old_part(values: Values, shop: Shop) -> str:
    note = f", {values['note']}" if values.get("note") else ""
    agreed = f", agreed on {_a_day(values['agreed_on'], shop)}" if values.get("agreed_on") else ""
    return f"Old part {values['part']}: {str(OldPart.State(values['state']).label).lower()}{note}{agreed}"


KINDS: Mapping[str, EventKind] = {
    "noted": EventKind(lambda values, shop: f"Noted: {values['words']}", frozenset({"words"})),
    "rang": EventKind(_rang, frozenset({"words"})),
    "told_ready": EventKind(_told_ready),
    "told_ready_again": _fixed("Email that it is ready sent again"),
    "booked_in": _fixed("Booked in"),
    "moved": EventKind(_moved, frozenset({"reason"})),
    "ready_unproved": EventKind(_ready_unproved),
    "back_in_pieces": EventKind(lambda values, shop: f"Handed back in pieces: {'; '.join(values['open'])}"),
    "back_unsafe": EventKind(_back_unsafe, frozenset({"signed_by"})),
    "unit_told": EventKind(_told, frozenset({"note"})),
    "unit_told_back": EventKind(lambda values, shop: f"Taken back: {told_words(values['part'], values['value'])}"),
    "finding_noted": EventKind(lambda values, shop: f"{_kind_of_finding(values)} noted. {values['finding']}"),
    "finding_withdrawn": _fixed("Finding taken back: {finding}"),
    "finding_answered": EventKind(_finding_answered),
    "finding_reopened": _fixed("Open again: {finding}"),
    "agreement_changed": _fixed("Agreement changed"),
    "squeezed_in": EventKind(_squeezed_in),
    "put_right": EventKind(lambda values, shop: f"Put right: {values['reason']}", frozenset({"reason"})),
    "customers_merged": EventKind(
        lambda values, shop: f"Two records of the customer became one: {values['reason']}", frozenset({"reason"})
    ),
    "visit_noted": _fixed("What came with it noted"),
    "visit_joined": EventKind(
        lambda values, shop: f"Ticket {values['number']} put to ticket {values['beside']}, one visit{_why(values)}",
        frozenset({"reason"}),
    ),
    "visit_split": EventKind(
        lambda values, shop: f"Ticket {values['number']} taken out of the visit{_why(values)}", frozenset({"reason"})
    ),
    "unit_corrected": _fixed("Fork or shock corrected"),
    "settings_written": _settings("recorded"),
    "settings_corrected": _settings("corrected"),
    "services_counted": EventKind(lambda values, shop: f"Counts as {levels_in_words(values['levels'])}"),
    "services_uncounted": EventKind(
        lambda values, shop: f"Counts no more as {levels_in_words(values['levels'])}, until it is handed back again"
    ),
    "services_corrected": _fixed("Services done corrected"),
    "part_quantity": _fixed("Part: {part}"),
    "part_priced": _fixed("Part: {part}"),
    "part_used": _part("used"),
    "part_dropped": _part("removed"),
    "part_again": _part("needed again"),
    "old_part": EventKind(_old_part, frozenset({"note"})),
    "part_given_up": EventKind(
        lambda values, shop: f"{values['part']} was kept for this ticket and used on ticket {values['number']}"
    ),
    "batch_out_of_date": EventKind(
        lambda values, shop: (
            f"{values['part']} used of batch {values['batch']}, which was out of date: use by {_day(values['use_by'])}"
        )
    ),
    "part_given": EventKind(_part_given, frozenset({"reason"})),
    "part_given_away": EventKind(
        lambda values, shop: f"{values['part']} given to ticket {values['number']}: {values['reason']}",
        frozenset({"reason"}),
    ),
    "part_given_back": _fixed("{part}: kept by the order of promises again"),
    "part_swapped": EventKind(lambda values, shop: f"{values['other']} instead of {values['part']}"),
    "parts_added": EventKind(_parts),
    "labour_added": _labour("added"),
    "labour_dropped": _labour("removed"),
    "estimate_agreed": _answer("agreed to"),
    "estimate_declined": _answer("declined"),
    "discount_given": _with_amount("Taken off: {reason}"),
    "discount_dropped": _with_amount("Not taken off after all: {reason}"),
    "warranty_bears": EventKind(
        lambda values, shop: f"{values['line']}: borne by {Warranty(values['warranty']).label}"
    ),
    "warranty_dropped": _fixed("{line}: borne by no warranty after all"),
    "paid": EventKind(_paid),
    "paid_back": EventKind(_paid_back, frozenset({"reason"})),
    "receipt_issued": _fixed("Receipt {number} issued"),
    "credit_issued": _fixed("Credit note {number} issued"),
    "hand_over_undone": _fixed("Hand-over taken back: the wrong row"),
    "opened_again": EventKind(lambda values, shop: f"Opened again: {values['reason']}", frozenset({"reason"})),
    "charged": EventKind(lambda values, shop: f"Charged {_amount(values, shop)}"),
    "document_issued": EventKind(
        lambda values, shop: f"{Document.Kind(values['kind']).label} issued, revision {values['revision']}"
    ),
    "link_made": _fixed("Link for the customer made, good for {days} days"),
    "link_withdrawn": _fixed("Link for the customer withdrawn"),
    "checklist_begun": _fixed("Checklist begun: {title}"),
    "checklist_put_away": _fixed("Checklist put away: {title}"),
    "order_suggested": _fixed("Suggested order taken: {title}"),
    "order_handbook": _fixed("Back to the standard order: {title}"),
    "minutes_corrected": _fixed("Minutes corrected: {step}, {minutes}"),
    "bolt_tightened": EventKind(_tightened),
    "bolt_countersigned": EventKind(lambda values, shop: f"{BOLT_LABELS[values['bolt']]}: second-person check done"),
    "photo_added": _of_a_photo("Photo added"),
    "photo_shown_before": _of_a_photo("Photo for the customer, before the work"),
    "photo_shown_after": _of_a_photo("Photo for the customer, after the work"),
    "photo_not_shown": _of_a_photo("Photo no longer for the customer"),
    "photo_removed": EventKind(
        lambda values, shop: f"Photo removed{_caption(values)}. Why: {values['reason']}", frozenset({"reason"})
    ),
    "mark_removed": EventKind(
        lambda values, shop: f"Mark removed. {values['place']}: {values['text']}. Why: {values['reason']}",
        frozenset({"reason"}),
    ),
    "condition_noted": _fixed("Condition noted. {place}: {text}"),
}


def _as_it_is(value: Any, shop: Shop) -> str:
    return str(value) if value not in (None, "") else NONE


def _day(value: str) -> str:
    """With its year always, as on papers: a history is read long after."""
    return f"{dt.date.fromisoformat(value):%a %-d %b %Y}"


def _a_day(value: Any, shop: Shop) -> str:
    return _day(value)


def _a_price(value: Any, shop: Shop) -> str:
    return shop_money(Decimal(value), shop) if value is not None else NONE


def _each(value: Any, shop: Shop) -> str:
    return price_in_words(None if value is None else Decimal(value))


def _setting(name: str) -> ChangedField:
    return ChangedField(lambda: LABELS[name], lambda value, shop: settings_in_words(name, value, shop))


def _of_unit(field: UnitField) -> ChangedField:
    def shown(value: Any, shop: Shop) -> str:
        if value in (None, ""):
            return NONE
        if field.measured is not None:
            return show(value, field.measured.dimension, shop.unit_for(field.measured.dimension))
        return field.choices.get(str(value), str(value))

    return ChangedField(lambda: field.label, shown, personal=field.personal)


FIELDS: Mapping[str, ChangedField] = {
    "unit_model": ChangedField(lambda: "Model", _as_it_is),
    "unit_described_as": ChangedField(lambda: "Make and model in words", _as_it_is),
    "unit_kind": ChangedField(lambda: "Kind", lambda value, shop: str(FACTS["kind"].values.get(value, value))),
    **{f"unit_{field.name}": _of_unit(field) for field in UNIT_FIELDS},
    "customer": ChangedField(lambda: "Customer", _as_it_is, personal=True),
    "unit": ChangedField(lambda: "Fork or shock", _as_it_is),
    "loose": ChangedField(
        lambda: "Loose parts", lambda value, shop: ", ".join(LOOSE_PARTS.get(key, key) for key in value) or NONE
    ),
    "loose_words": ChangedField(lambda: "Other loose parts", _as_it_is, personal=True),
    "shelf": ChangedField(lambda: "Shelf", _as_it_is),
    "came": ChangedField(lambda: "Came", lambda value, shop: way_in_words(*value), personal=True),
    "goes": ChangedField(lambda: "Goes", lambda value, shop: way_in_words(*value), personal=True),
    "bike": ChangedField(lambda: "Bike", _as_it_is),
    "complaint_words": ChangedField(lambda: "Customer’s words", _as_it_is, personal=True),
    "complaints": ChangedField(lambda: "Complaints", lambda value, shop: ", ".join(value) or NONE),
    "promised_on": ChangedField(lambda: "Promised for", _a_day),
    "price_ceiling": ChangedField(lambda: "Price limit", _a_price),
    "price_together": ChangedField(lambda: "Price limit for the whole visit", _a_price),
    "no_limit_said": ChangedField(lambda: "No limit", lambda value, shop: "said so" if value else "not said"),
    "notes": ChangedField(lambda: "Notes", _as_it_is, personal=True),
    "services": ChangedField(lambda: "Services", lambda value, shop: levels_in_words(value)),
    "price_each": ChangedField(lambda: "Price each", _each),
    "quantity": ChangedField(lambda: "Quantity", _as_it_is),
    **{name: _setting(name) for name in LABELS},
}


def logged_words(event: TicketEvent, shop: Shop) -> str:
    """What a line says; of one without a kind, the words it was written in."""
    kind = KINDS.get(event.kind)
    return kind.words(event.values, shop) if kind else event.text


def changes_of(event: TicketEvent, shop: Shop) -> list[LoggedChange]:
    """What a line changed, in words."""
    return [
        LoggedChange(FIELDS[key].label() if key in FIELDS else key, _shown(key, before, shop), _shown(key, after, shop))
        for key, (before, after) in event.changes.items()
    ]


def log_lines(events: Iterable[TicketEvent], shop: Shop) -> list[LogLine]:
    """The lines of a logbook as they are shown; no query."""
    return [LogLine(event, logged_words(event, shop), changes_of(event, shop)) for event in events]


def _shown(key: str, value: Any, shop: Shop) -> str:
    if isinstance(value, Mapping):
        return str(value["words"])
    return FIELDS[key].shown(value, shop) if key in FIELDS else str(value)
