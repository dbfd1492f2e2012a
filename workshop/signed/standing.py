"""How far a shop has read its checklists through, and what the bench says of a version that it has not."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from django.db.models import Exists, F, OuterRef, QuerySet

from diagnosis.models import Checklist
from workshop.signed.models import ChecklistSignature
from workshop.staff.models import Shop


class ReadStanding(StrEnum):
    """Whether somebody of this shop, who had not written it, has read a version through and signed it."""

    READ = "read"
    BY_AUTHOR = "by_author"
    CHANGED = "changed"
    UNREAD = "unread"


SAID: Mapping[ReadStanding, str] = {
    ReadStanding.READ: "Read through and signed",
    ReadStanding.BY_AUTHOR: "Read through only by who changed it",
    ReadStanding.CHANGED: "Changed since this shop read it through",
    ReadStanding.UNREAD: "Not yet read through by this shop",
}
"""What each is called, on every screen and paper."""


@dataclass(frozen=True)
class ReadThrough:
    """One version: the signatures that stand under it, and the last that stood under one before it."""

    checklist: Checklist
    signatures: Sequence[ChecklistSignature] = ()
    before: ChecklistSignature | None = None

    @property
    def standing(self) -> ReadStanding:
        if any(not one.as_author for one in self.signatures):
            return ReadStanding.READ
        if self.signatures:
            return ReadStanding.BY_AUTHOR
        return ReadStanding.UNREAD if self.before is None else ReadStanding.CHANGED

    @property
    def said(self) -> str:
        return SAID[self.standing]

    @property
    def is_read(self) -> bool:
        return self.standing == ReadStanding.READ

    @property
    def caveat(self) -> str:
        """What the bench and the work order say of it; nothing where it was read."""
        return "" if self.is_read else self.said


def read_throughs(shop: Shop, checklists: Iterable[Checklist]) -> dict[int, ReadThrough]:
    """How far the shop has read these versions, by their key in the database; one query."""
    versions = list(checklists)
    standing = ChecklistSignature.objects.filter(shop=shop, taken_back_at=None)
    standing = standing.filter(checklist__key__in={one.key for one in versions}).select_related("by", "checklist")
    signatures = list(standing.order_by("checklist__number", "wording", "pk")) if versions else []
    return {version.pk: _of(version, signatures) for version in versions}


def _of(version: Checklist, signatures: Sequence[ChecklistSignature]) -> ReadThrough:
    own = [one for one in signatures if (one.checklist_id, one.wording) == (version.pk, version.wording)]
    earlier = [
        one
        for one in signatures
        if one.checklist.key == version.key
        and not one.as_author
        and (one.checklist.number, one.wording if one.checklist_id == version.pk else 0)
        < (version.number, version.wording if one.checklist_id == version.pk else 1)
    ]
    return ReadThrough(version, own, earlier[-1] if earlier else None)


def read_through(shop: Shop, checklist: Checklist) -> ReadThrough:
    """How far the shop has read one version; one query."""
    return read_throughs(shop, [checklist])[checklist.pk]


def unread(shop: Shop) -> QuerySet[Checklist]:
    """The versions in use that the counter offers, and that nobody of the shop but who changed them has signed."""
    signed = ChecklistSignature.objects.filter(
        shop=shop, checklist=OuterRef("pk"), wording=OuterRef("wording"), taken_back_at=None, as_author=False
    )
    return Checklist.objects.filter(~Exists(signed), is_current=True, complaint__retired_at=None)


def read_versions(shop: Shop, key: str) -> set[int]:
    """The keys of the versions of a checklist that stand read through in the shop."""
    signed = ChecklistSignature.objects.filter(shop=shop, checklist__key=key, taken_back_at=None, as_author=False)
    return set(signed.filter(wording=F("checklist__wording")).values_list("checklist", flat=True))
