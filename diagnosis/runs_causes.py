"""Which cause a finding is kept with."""

from __future__ import annotations

from diagnosis.models import Cause, Step, Tick
from diagnosis.runs_refusals import TickRefused
from diagnosis.runs_rules import FOUND, causes_of


def cause_found(step: Step, outcome: str, cause_key: str) -> Cause | None:
    """The cause that was chosen, or the only one the finding can mean; None where nobody can say.

    Raises TickRefused for a cause that this answer cannot have.
    """
    able = causes_of(step) if outcome == FOUND else ()
    if cause_key and cause_key not in able:
        raise TickRefused(f"“{step.title}” cannot find that cause.")
    key = cause_key or (able[0] if len(able) == 1 else "")
    return Cause.objects.filter(key=key).first() if key else None


def names_another_cause(stored: Tick, cause_key: str) -> bool:
    """Whether a tick sent again now chooses another cause than the one it was stored with."""
    return bool(cause_key) and (stored.cause is None or stored.cause.key != cause_key)
