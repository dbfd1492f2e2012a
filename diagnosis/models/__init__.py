"""How to find what is wrong: checklists as data, and the record of working through them."""

from diagnosis.models.checklist import Cause, Checklist, Complaint, Step
from diagnosis.models.run import Reading, Run, StepTimer, Tick

__all__ = ["Cause", "Checklist", "Complaint", "Reading", "Run", "Step", "StepTimer", "Tick"]
