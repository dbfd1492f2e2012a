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
from specs.models import ServiceKit
from specs.units import show
from workshop.charges.models import Agreement
from workshop.issued.models import Document
from workshop.staff.models import Shop
from workshop.stock.amounts import amount_of
from workshop.tickets.models import FindingAnswer, SettingsRecord, Ticket, TicketEvent
from workshop.tickets.settings_record import LABELS, settings_in_words
from workshop.torque.models import BOLT_LABELS
from workshop.web.number_words import money_words, price_in_words

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
class Change:
    """A changed value in words."""

    label: str
    before: str
    after: str


@dataclass(frozen=True)
class Line:
    """A line of the logbook as it is shown."""

    event: TicketEvent
    words: str
    changes: list[Change]


def state_in_words(state: str, waiting_for: str = "") -> str:
    """A state as people say it, with what is waited for."""
    words = str(Ticket.State(state).label)
    return f"{words} for {Ticket.WaitingFor(waiting_for).label}" if waiting_for else words


def levels_in_words(levels: Iterable[str]) -> str:
    """Services by their names, the smallest first."""
    chosen = set(levels)
    return ", ".join(str(level.label).lower() for level in ServiceKit.Level if level in chosen) or "no service"


def _of_a_photo(words: str) -> EventKind:
    return EventKind(lambda values, shop: words + (f": {values['caption']}" if values.get("caption") else ""))


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
        return f"Labour {done}: {values['words']}{minutes}, {_amount(values)}"

    return EventKind(words)


def _answer(done: str) -> EventKind:
    def words(values: Values, shop: Shop) -> str:
        how = str(Agreement.How(values["how"]).label).lower()
        return f"Customer {done} estimate {values['revision']}, {_amount(values)}, {how}"

    return EventKind(words)


def _amount(values: Values) -> str:
    return money_words(Decimal(values["amount"]), values["currency"])


def _parts(values: Values, shop: Shop) -> str:
    return "Parts added: " + ", ".join(
        amount_of(quantity, "".join(unit), title) for quantity, title, *unit in values["parts"]
    )


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


KINDS: Mapping[str, EventKind] = {
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
    "settings_written": _settings("written down"),
    "settings_corrected": _settings("corrected"),
    "services_counted": EventKind(lambda values, shop: f"Counts as {levels_in_words(values['levels'])}"),
    "services_corrected": _fixed("Services done corrected"),
    "part_quantity": _fixed("Part: {part}"),
    "part_priced": _fixed("Part: {part}"),
    "part_used": _part("used"),
    "part_dropped": _part("dropped"),
    "part_again": _part("needed again"),
    "parts_added": EventKind(_parts),
    "labour_added": _labour("added"),
    "labour_dropped": _labour("dropped"),
    "estimate_agreed": _answer("agreed to"),
    "estimate_declined": _answer("declined"),
    "charged": EventKind(lambda values, shop: f"Charged {_amount(values)}"),
    "document_issued": EventKind(
        lambda values, shop: f"{Document.Kind(values['kind']).label} issued, revision {values['revision']}"
    ),
    "link_made": _fixed("Link for the customer made, good for {days} days"),
    "link_withdrawn": _fixed("Link for the customer withdrawn"),
    "checklist_begun": _fixed("Checklist begun: {title}"),
    "checklist_put_away": _fixed("Checklist put away: {title}"),
    "order_suggested": _fixed("Suggested order taken: {title}"),
    "order_handbook": _fixed("Back to the handbook’s order: {title}"),
    "minutes_corrected": _fixed("Minutes corrected: {step}, {minutes}"),
    "bolt_tightened": EventKind(_tightened),
    "bolt_countersigned": EventKind(lambda values, shop: f"{BOLT_LABELS[values['bolt']]} countersigned"),
    "photo_added": _of_a_photo("Photo added"),
    "photo_shown_before": _of_a_photo("Photo for the customer, before the work"),
    "photo_shown_after": _of_a_photo("Photo for the customer, after the work"),
    "photo_not_shown": _of_a_photo("Photo no longer for the customer"),
    "condition_noted": _fixed("Condition noted. {place}: {text}"),
}


def _as_it_is(value: Any, shop: Shop) -> str:
    return str(value) if value not in (None, "") else NONE


def _a_day(value: Any, shop: Shop) -> str:
    return f"{dt.date.fromisoformat(value):%a %d %b %Y}"


def _a_price(value: Any, shop: Shop) -> str:
    return money_words(Decimal(value), shop.currency) if value is not None else NONE


def _each(value: Any, shop: Shop) -> str:
    return price_in_words(None if value is None else Decimal(value))


def _setting(name: str) -> ChangedField:
    return ChangedField(lambda: LABELS[name], lambda value, shop: settings_in_words(name, value, shop))


FIELDS: Mapping[str, ChangedField] = {
    "complaint_words": ChangedField(lambda: "Customer's words", _as_it_is, personal=True),
    "complaints": ChangedField(lambda: "Complaints", lambda value, shop: ", ".join(value) or NONE),
    "promised_on": ChangedField(lambda: "Promised for", _a_day),
    "price_ceiling": ChangedField(lambda: "Price ceiling", _a_price),
    "notes": ChangedField(lambda: "Notes", _as_it_is, personal=True),
    "services": ChangedField(lambda: "Services", lambda value, shop: levels_in_words(value)),
    "price_each": ChangedField(lambda: "Price each", _each),
    "quantity": ChangedField(lambda: "Quantity", _as_it_is),
    **{name: _setting(name) for name in LABELS},
}


def words_of(event: TicketEvent, shop: Shop) -> str:
    """What a line says; of one without a kind, the words it was written in."""
    kind = KINDS.get(event.kind)
    return kind.words(event.values, shop) if kind else event.text


def changes_of(event: TicketEvent, shop: Shop) -> list[Change]:
    """What a line changed, in words."""
    return [
        Change(FIELDS[key].label() if key in FIELDS else key, _shown(key, before, shop), _shown(key, after, shop))
        for key, (before, after) in event.changes.items()
    ]


def lines_of(events: Iterable[TicketEvent], shop: Shop) -> list[Line]:
    """The lines of a logbook as they are shown; no query."""
    return [Line(event, words_of(event, shop), changes_of(event, shop)) for event in events]


def _shown(key: str, value: Any, shop: Shop) -> str:
    if isinstance(value, Mapping):
        return str(value["words"])
    return FIELDS[key].shown(value, shop) if key in FIELDS else str(value)
