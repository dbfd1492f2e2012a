"""What a finding is kept as: the cause, by the way or dangerous, and with which cause."""

from __future__ import annotations

from diagnosis.layout_plans import BY_THE_WAY, CAUSE, DANGER, FINDINGS
from diagnosis.models import Cause, Step, Tick
from diagnosis.runs_refusals import TickRefused
from diagnosis.runs_rules import FOUND, answer_of, can_end_search, causes_of


def likeliest_finding(step: Step) -> str:
    """What a finding at the step is unless somebody says otherwise: what its checklist says, else the cause if it can.

    A step that cannot find a cause of the complaint makes its findings by the way.
    """
    declared = str(answer_of(step, FOUND).get("finding") or "")
    if declared and (declared != CAUSE or can_end_search(step)):
        return declared
    return CAUSE if can_end_search(step) else BY_THE_WAY


def finding_of(step: Step, outcome: str, finding: str, cause_key: str) -> tuple[str, Cause | None]:
    """The kind of a finding, and the cause that was chosen or the only one that it can mean; None if nobody can say.

    `finding` is empty where nobody said. A danger may be the cause too: it is where a cause is named with it.

    Raises TickRefused for a kind or a cause that this answer cannot have.
    """
    if outcome != FOUND:
        if finding:
            raise TickRefused(f"“{step.title}” found nothing with that answer, so it has no kind of finding.")
        return "", cause_found(step, outcome, cause_key)
    if finding and finding not in FINDINGS:
        raise TickRefused(f"“{finding}” is no kind of finding.")
    if finding == CAUSE and not can_end_search(step):
        raise TickRefused(
            f"“{step.title}” cannot find the cause of this complaint. Note it by the way, or as dangerous."
        )
    if finding == BY_THE_WAY and cause_key:
        raise TickRefused("What was found by the way is not the cause. Choose one of the two.")
    kind = finding or (CAUSE if cause_key else likeliest_finding(step))
    if kind == BY_THE_WAY or (finding == DANGER and not cause_key):
        return kind, None
    return kind, cause_found(step, outcome, cause_key)


def kind_of(tick: Tick) -> str:
    """What kind of finding a tick is; of one from before kinds were kept, the cause where its step can find one."""
    return tick.finding or (CAUSE if can_end_search(tick.step) else BY_THE_WAY)


def cause_found(step: Step, outcome: str, cause_key: str) -> Cause | None:
    """The cause that was chosen, or the only one the finding can mean; None where nobody can say.

    Raises TickRefused for a cause that this answer cannot have.
    """
    able = causes_of(step) if outcome == FOUND else ()
    if cause_key and cause_key not in able:
        raise TickRefused(f"“{step.title}” cannot find that cause.")
    key = cause_key or (able[0] if len(able) == 1 else "")
    return Cause.objects.filter(key=key).first() if key else None


def says_otherwise(stored: Tick, cause_key: str, finding: str) -> bool:
    """Whether a tick sent again now chooses another cause or kind of finding than it was stored with."""
    other_cause = bool(cause_key) and (stored.cause is None or stored.cause.key != cause_key)
    return other_cause or (bool(finding) and stored.finding != finding)
