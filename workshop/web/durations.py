"""How long something takes, written one way on every screen and paper."""

from __future__ import annotations


def duration_words(minutes: float) -> str:
    """Minutes of work as people say them: “12 min”, “1 h 40 min”, “35 h”; “under 1 min” for less than half."""
    whole = round(minutes)
    if whole == 0:
        return "under 1 min" if minutes > 0 else "0 min"
    hours, rest = divmod(whole, 60)
    return " ".join(
        part for part in (f"{hours:,} h" if hours else "", f"{rest} min" if rest or not hours else "") if part
    )
