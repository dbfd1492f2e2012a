"""Chips: a state as a word and its drawing, so that colour only helps."""

from __future__ import annotations

from collections.abc import Mapping

from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

from workshop.web.icons import ICONS

# State of a ticket, outcome of a step, or mark: its drawing and its words.
CHIPS: Mapping[str, tuple[str, str]] = {
    "booked_in": ("envelope", "Booked in"),
    "on_the_bench": ("wrench", "On the bench"),
    "waiting": ("hourglass", "Waiting"),
    "ready": ("tick", "Ready"),
    "handed_back": ("out", "Handed back"),
    "called_off": ("cross", "Cancelled"),
    "ruled_out": ("slash", "Ruled out"),
    "found": ("target", "Found"),
    "noted": ("info", "Noted"),
    "danger": ("caution", "Do not ride"),
    "cant_tell": ("question", "Can’t tell"),
    "done": ("tick", "Done"),
    "left_out": ("dash", "Left out"),
    "still_pulling": ("caution", "Still pulling: stop"),
    "proved": ("ticks", "Proved"),
    "not_proved": ("cross", "Not proved"),
    "left_early": ("question", "Wait left early"),
    "late": ("clock", "Overdue"),
    "due_soon": ("clock", "Due soon"),
    "unsent": ("send", "Not sent yet"),
    "short": ("stores", "Short"),
}


def chip_of(state: str, label: str = "") -> SafeString:
    """A chip for a state; `label` says more than its usual word, such as what is waited for."""
    icon, word = CHIPS.get(state, ("", state))
    return format_html(
        '<span class="chip chip--{}">{}<span class="chip__word">{}</span></span>',
        state,
        ICONS.get(icon, mark_safe("")),
        label or word,
    )
