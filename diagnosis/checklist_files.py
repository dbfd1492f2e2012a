"""Checklists out to files and in from files: what a file would change is shown first, and written when confirmed.

A file that is exported stands alone: its steps in full, with its cautions. A file that is imported may also be one of
the shipped folder, or the folder in a zip, with steps taken by `use:`.
"""

from __future__ import annotations

import enum
import hashlib
import io
import json
import zipfile
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache

from django.contrib.auth.base_user import AbstractBaseUser
from django.db import transaction

from diagnosis.comparing import Comparison, compare
from diagnosis.layout import (
    CAUTIONS_FILE,
    SHARED_FILE,
    CausePlan,
    CautionPlan,
    ChecklistPlan,
    LayoutError,
    SharedSteps,
    load_cautions,
    load_checklist,
    load_shared,
)
from diagnosis.layout_plans import one_error
from diagnosis.layout_safeguards import safeguard_problems
from diagnosis.layout_states import opened_under_air
from diagnosis.layout_writing import as_yaml
from diagnosis.loading import SHIPPED, load_plan
from diagnosis.models import Checklist
from diagnosis.stored import InUse, data_of, in_use, same_words
from diagnosis.uploads import texts_of


class ChecklistFate(enum.Enum):
    """What would become of a file."""

    NEW = "new"
    CHANGED = "changed"
    UNCHANGED = "unchanged"
    REFUSED = "refused"


@dataclass(frozen=True)
class FileFate:
    """One file: its fate, why it is refused by step and reason, or what it changes against the version in use."""

    file: str
    fate: ChecklistFate
    problems: tuple[LayoutError, ...] = ()
    plan: ChecklistPlan | None = None
    number_in_use: int = 0
    changes: Comparison | None = None
    also_in: tuple[str, ...] = ()


@dataclass(frozen=True)
class ChecklistImportPlan:
    """The fate of each file, and a digest of file and fates that says whether a second look sees the same."""

    files: tuple[FileFate, ...]
    digest: str

    @property
    def to_write(self) -> list[FileFate]:
        return [one for one in self.files if one.fate in (ChecklistFate.NEW, ChecklistFate.CHANGED)]

    def count(self, fate: ChecklistFate) -> int:
        return sum(1 for one in self.files if one.fate is fate)


class ChecklistPlanChanged(Exception):
    """What would happen is no longer what was confirmed; nothing is written."""

    def __init__(self, plan: ChecklistImportPlan) -> None:
        super().__init__("The checklists changed after the dry run.")
        self.plan = plan


def export_text(plan: ChecklistPlan) -> str:
    """One checklist as a file that stands alone."""
    return as_yaml(data_of(plan))


def export_zip(plans: Iterable[ChecklistPlan]) -> bytes:
    """Several, a file each; the same plans give the same bytes."""
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for plan in sorted(plans, key=lambda one: one.key):
            archive.writestr(zipfile.ZipInfo(f"{plan.key}.yaml"), export_text(plan).encode(), zipfile.ZIP_DEFLATED)
    return packed.getvalue()


def plan_checklist_import(content: bytes) -> ChecklistImportPlan:
    """What would become of each file of an upload; nothing is written.

    Raises diagnosis.uploads.UnreadableUpload where no file can be looked at.
    """
    texts = texts_of(content)
    fates = list(_fates(texts))
    said = [[one.file, one.fate.value, one.number_in_use] for one in fates]
    digest = hashlib.sha256(content + json.dumps(said).encode()).hexdigest()
    return ChecklistImportPlan(tuple(fates), digest)


@transaction.atomic
def carry_out_checklist_import(*, content: bytes, digest: str, by: AbstractBaseUser) -> ChecklistImportPlan:
    """Put the new and changed checklists of an upload in use, as the dry run of that digest showed.

    Raises PlanChanged, with what would happen now, and UnreadableUpload.
    """
    plan = plan_checklist_import(content)
    if plan.digest != digest:
        raise ChecklistPlanChanged(plan)
    for one in plan.to_write:
        if one.plan is not None:
            load_plan(plan=one.plan, by=by, origin=Checklist.Origin.SHOP, written_by=[by])
    return plan


@cache
def shipped_cautions() -> Mapping[str, CautionPlan]:
    """The cautions that ship with the app; a file may name them without bringing them."""
    return load_cautions((SHIPPED / CAUTIONS_FILE).read_text(encoding="utf-8"))


@cache
def _shipped_shared() -> SharedSteps:
    return load_shared((SHIPPED / SHARED_FILE).read_text(encoding="utf-8"), shipped_cautions())


def _fates(texts: Mapping[str, str]) -> Iterable[FileFate]:
    cautions, shared, refused = _common(texts)
    yield from refused
    stored = in_use()
    taken: dict[str, str] = {}
    words: dict[str, tuple[str, CausePlan]] = {}
    for file, text in sorted(texts.items()):
        if file in (CAUTIONS_FILE, SHARED_FILE):
            continue
        try:
            plan = load_checklist(file, text, cautions, shared)
            if under_air := tuple(opened_under_air(file, plan)):
                raise one_error(under_air)
            _refuse_clashes(file, plan, stored, taken, words)
        except LayoutError as error:
            yield FileFate(file, ChecklistFate.REFUSED, error.all)
        else:
            yield _fate(file, plan, stored)


def _common(
    texts: Mapping[str, str],
) -> tuple[Mapping[str, CautionPlan], SharedSteps, list[FileFate]]:
    """Cautions and shared steps: those of the upload over the shipped ones."""
    cautions, shared, refused = dict(shipped_cautions()), _shipped_shared(), []
    try:
        if CAUTIONS_FILE in texts:
            cautions |= load_cautions(texts[CAUTIONS_FILE])
        if SHARED_FILE in texts:
            shared = load_shared(texts[SHARED_FILE], cautions)
    except LayoutError as error:
        refused.append(FileFate(error.file, ChecklistFate.REFUSED, error.all))
    return cautions, shared, refused


def _refuse_clashes(
    file: str,
    plan: ChecklistPlan,
    stored: Mapping[str, InUse],
    taken: dict[str, str],
    words: dict[str, tuple[str, CausePlan]],
) -> None:
    """A checklist twice in the upload, a complaint of another checklist, a cause told in two ways."""
    if plan.key in taken:
        raise LayoutError(file, "", f"the checklist {plan.key!r} is in {taken[plan.key]} as well")
    for other in stored.values():
        if other.plan.complaint.key == plan.complaint.key and other.plan.key != plan.key:
            said = f"the complaint {plan.complaint.key!r} belongs to the checklist “{other.plan.title}”"
            raise LayoutError(file, "", said)
    for cause in plan.causes:
        first_file, first = words.get(cause.key, (file, cause))
        if _told(first) != _told(cause):
            raise LayoutError(file, "", f"cause {cause.key!r} is worded otherwise in {first_file}")
    taken[plan.key] = file
    words.update({cause.key: (file, cause) for cause in plan.causes})


def _told(cause: CausePlan) -> tuple[object, ...]:
    """What is told of a cause wherever it is named; its weight belongs to the checklist."""
    return cause.title, cause.for_customer, sorted(cause.ends_life)


def _fate(file: str, plan: ChecklistPlan, stored: Mapping[str, InUse]) -> FileFate:
    known = stored.get(plan.key)
    if known is None:
        return FileFate(
            file, ChecklistFate.NEW, plan=plan, changes=compare(None, plan), also_in=reworded_in(plan, stored)
        )
    number = known.checklist.number
    if same_words(known.plan, plan):
        return FileFate(file, ChecklistFate.UNCHANGED, plan=plan, number_in_use=number)
    lost = tuple(safeguard_problems(file, known.plan, plan))
    fate = ChecklistFate.REFUSED if lost else ChecklistFate.CHANGED
    return FileFate(file, fate, lost, plan, number, compare(known.plan, plan), reworded_in(plan, stored))


def reworded_in(plan: ChecklistPlan, stored: Mapping[str, InUse]) -> tuple[str, ...]:
    """Other checklists in use that name a cause which `plan` words anew: there its words change as well."""
    words = {cause.key: _told(cause) for cause in plan.causes}
    return tuple(
        other.plan.title
        for other in stored.values()
        if other.plan.key != plan.key
        and any(words.get(cause.key, _told(cause)) != _told(cause) for cause in other.plan.causes)
    )
