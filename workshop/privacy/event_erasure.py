"""Lines of the logbook without a person: by their keys, whatever they are called on screen."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from workshop.privacy.scrubbing import ERASED, scrub_data
from workshop.tickets.models import TicketEvent
from workshop.work.event_words import FIELDS, KINDS


def erase_in_event(event: TicketEvent, scrub: Callable[[str], str]) -> None:
    """Take the person out of a line, not saved. What was written without a key may be anybody's, and goes whole."""
    kind = KINDS.get(event.kind)
    if event.text:
        event.text = ERASED
    if kind is None:
        event.kind, event.values = "", {}
    else:
        event.values = {
            key: "" if key in kind.personal else scrub_data(value, scrub) for key, value in event.values.items()
        }
    event.changes = dict(_changed(key, values, scrub) for key, values in event.changes.items())


def _changed(key: str, values: list[Any], scrub: Callable[[str], str]) -> tuple[str, list[Any]]:
    field = FIELDS.get(key)
    if field is None:
        return ERASED, [ERASED] * len(values)
    gone = {"words": ERASED}
    return key, [gone if field.personal or isinstance(value, Mapping) else scrub_data(value, scrub) for value in values]
