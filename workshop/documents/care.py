"""Care advice for the customer, and the next service. The advice is common practice, no published source."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext, gettext_noop

from workshop.intervals.next_service import NextService, interval_words

FORK_CARE = (
    gettext_noop(
        "Wipe the sliding tubes and seals with a soft dry cloth after a dirty ride. Look for oil rings and scratches."
    ),
    gettext_noop("Do not point a pressure washer at the seals: it drives water and grit past them."),
    gettext_noop(
        "Check the pressure every few weeks with a shock pump, and after a big change of height or temperature."
    ),
    gettext_noop(
        "After pumping, push the fork slowly through half its travel ten times and read again: the chambers even out."
    ),
    gettext_noop(
        "If the fork rests more than a finger’s width into its travel with nobody on it, ride gently and call us."
    ),
)
SHOCK_CARE = (
    gettext_noop("Wipe the shaft and its seal with a soft dry cloth after a dirty ride. Look for oil and scratches."),
    gettext_noop("Do not point a pressure washer at the seals: it drives water and grit past them."),
    gettext_noop(
        "Check the pressure every few weeks with a shock pump, and after a big change of height or temperature."
    ),
    gettext_noop("Listen for a knock at the mounts when you lift the saddle: it wears quickly once it starts."),
)


def care_advice(kind: str) -> tuple[str, ...]:
    return tuple(gettext(words) for words in (SHOCK_CARE if kind == "shock" else FORK_CARE))


def next_service(coming: NextService) -> dict[str, Any]:
    """When the next service is due, in words, what it counts from, and from which source; empty words without one."""
    rule = coming.rule
    if rule is None:
        return {"words": "", "counted": "", "source": "", "has_interval": coming.has_interval}
    interval = interval_words(rule)
    counted = gettext("Counted from the %(service)s: %(interval)s.")
    source = (
        gettext("%(source)s (checked)") if rule.is_checked else gettext("%(source)s (not checked against the manual)")
    )
    return {
        "words": gettext("%(service)s, %(when)s") % {"service": coming.label, "when": coming.when or interval},
        "counted": counted % {"service": coming.counted_from, "interval": interval},
        "source": source % {"source": rule.source},
        "has_interval": True,
    }
