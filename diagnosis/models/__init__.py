"""How to find what is wrong: checklists as data, and the record of working through them."""

from diagnosis.models.checklist import Cause, Checklist, Complaint, Step
from diagnosis.models.draft import ChecklistDraft
from diagnosis.models.run import MinutesCorrection, Reading, Run, StepTimer, Tick
from diagnosis.models.told import ToldOtherwise

__all__ = [
    "Cause", "Checklist", "ChecklistDraft", "Complaint", "MinutesCorrection", "Reading", "Run", "Step", "StepTimer",
    "Tick", "ToldOtherwise",
]  # fmt: skip
