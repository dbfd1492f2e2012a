"""The shipped checklists for tests: read once in a run, loaded into each test's database one at a time."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from diagnosis.layout import load_folder
from diagnosis.layout_plans import ChecklistFolder
from diagnosis.loading import SHIPPED, load_plan
from diagnosis.models import Checklist


@cache
def shipped_folder() -> ChecklistFolder:
    return load_folder(SHIPPED)


def folder_read_once(folder: Path) -> ChecklistFolder:
    """As `load_folder`; the shipped one, which takes half a second to read, is read once in a run."""
    return shipped_folder() if folder == SHIPPED else load_folder(folder)


def shipped_checklist(key: str) -> Checklist:
    """The current version of one shipped checklist, loaded if it is not there."""
    load_plan(plan=shipped_folder().checklist(key))
    return Checklist.objects.get(key=key, is_current=True)
