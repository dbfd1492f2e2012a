"""Care advice for the customer, and the next service. The advice is common practice, no published source."""

from __future__ import annotations

from typing import Any

from workshop.intervals.next_service import NextService, interval_words

FORK_CARE = (
    "Wipe the sliding tubes and seals with a soft dry cloth after a dirty ride. Look for oil rings and scratches.",
    "Do not point a pressure washer at the seals: it drives water and grit past them.",
    "Check the pressure every few weeks with a shock pump, and after a big change of height or temperature.",
    "After pumping, push the fork slowly through half its travel ten times and read again: the chambers even out.",
    "If the fork rests more than a finger’s width into its travel with nobody on it, ride gently and call us.",
)
SHOCK_CARE = (
    "Wipe the shaft and its seal with a soft dry cloth after a dirty ride. Look for oil and scratches.",
    "Do not point a pressure washer at the seals: it drives water and grit past them.",
    "Check the pressure every few weeks with a shock pump, and after a big change of height or temperature.",
    "Listen for a knock at the mounts when you lift the saddle: it wears quickly once it starts.",
)


def care_advice(kind: str) -> tuple[str, ...]:
    return SHOCK_CARE if kind == "shock" else FORK_CARE


def next_service(coming: NextService) -> dict[str, Any]:
    """When the next service is due, in words, what it counts from, and from which source; empty words without one."""
    rule = coming.rule
    if rule is None:
        return {"words": "", "counted": "", "source": "", "has_interval": coming.has_interval}
    counted = f"Counted from the {coming.counted_from}: {interval_words(rule)}."
    return {
        "words": f"{coming.label}, {coming.when or interval_words(rule)}",
        "counted": counted,
        "source": f"{rule.source} ({'checked' if rule.is_checked else 'not checked against the manual'})",
        "has_interval": True,
    }
