"""What a version changes against the one that was signed last."""

from __future__ import annotations

from dataclasses import replace

from diagnosis.comparing import Comparison, compare
from diagnosis.layout_plans import ChecklistPlan
from diagnosis.stored import plan_of
from workshop.signed.models import ChecklistSignature


def as_signed(signature: ChecklistSignature) -> ChecklistPlan:
    """The checklist as it was under the signature: its version, and the words that stood beside it."""
    plan = plan_of(signature.checklist)
    words = signature.words
    complaint = replace(
        plan.complaint, title=words["complaint"]["title"], symptoms=tuple(words["complaint"]["symptoms"])
    )
    causes = tuple(
        replace(
            cause,
            title=words["causes"][cause.key]["title"],
            for_customer=words["causes"][cause.key]["for_customer"],
            ends_life=tuple(words["causes"][cause.key]["ends_life"]),
        )
        if cause.key in words["causes"]
        else cause
        for cause in plan.causes
    )
    return replace(plan, complaint=complaint, causes=causes, is_routine=words["is_routine"])


def changed_since(signature: ChecklistSignature, now: ChecklistPlan) -> Comparison:
    """What is different now, in words."""
    return compare(as_signed(signature), now)
