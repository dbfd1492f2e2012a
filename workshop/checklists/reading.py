"""What the pages show on which a shop reads its checklists through, each gathered in a fixed number of queries."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.shortcuts import get_object_or_404

from diagnosis.comparing import Comparison
from diagnosis.in_full import InFull, in_full
from diagnosis.models import Checklist
from diagnosis.stored import plan_of
from workshop.signed.models import ChecklistSignature
from workshop.signed.signing import authors_to_answer, may_take_back, others_who_may_sign
from workshop.signed.since import changed_since
from workshop.signed.standing import ReadStanding, ReadThrough, read_through, read_throughs
from workshop.staff.models import Shop, User
from workshop.staff.roles import Right


@dataclass(frozen=True)
class SignatureShown:
    """A signature of the shop under any version, and whether who looks may take it back."""

    one: ChecklistSignature
    may_take_back: bool


@dataclass(frozen=True)
class ReadingPage:
    """A version written out, who signed what of it, and what changed since somebody did.

    `is_author`: who looks wrote some of what their signature would vouch for; `is_alone`: nobody else here may sign.
    """

    checklist: Checklist
    full: InFull
    read: ReadThrough
    changes: Comparison | None
    signatures: Sequence[SignatureShown]
    authors: Sequence[User]
    may_sign: bool
    has_signed: bool
    is_author: bool
    is_alone: bool


def reading_page(key: str, number: int | None, shop: Shop, user: User) -> ReadingPage:
    """The version in use, or the one of that number. Raises Http404."""
    wanted = {"is_current": True} if number is None else {"number": number}
    checklist = get_object_or_404(Checklist.objects.select_related("complaint", "made_by"), key=key, **wanted)
    plan = plan_of(checklist)
    read = read_through(shop, checklist)
    authors = authors_to_answer(shop, checklist)
    every = ChecklistSignature.objects.filter(shop=shop, checklist__key=key)
    every = every.select_related("by", "taken_back_by", "checklist").order_by("-pk")
    return ReadingPage(
        checklist=checklist,
        full=in_full(plan),
        read=read,
        changes=changed_since(read.before, plan) if read.before and not read.is_read else None,
        signatures=[SignatureShown(one, one.taken_back_at is None and may_take_back(one, user)) for one in every],
        authors=list(User.objects.filter(pk__in=authors, shop=shop).order_by("pk")),
        may_sign=user.may(Right.SIGN_CHECKLISTS) and checklist.is_current,
        has_signed=any(one.by_id == user.pk for one in read.signatures),
        is_author=user.pk in authors,
        is_alone=not others_who_may_sign(shop, user),
    )


@dataclass(frozen=True)
class ToRead:
    """A checklist in the list of those to read."""

    checklist: Checklist
    read: ReadThrough


def lists_to_read(shop: Shop) -> list[ToRead]:
    """Every checklist that is offered, those that nobody has read first; two queries."""
    current = Checklist.objects.filter(is_current=True, complaint__retired_at=None).select_related("complaint")
    lists = list(current.order_by("complaint__position", "title"))
    read = read_throughs(shop, lists)
    lines = [ToRead(one, read[one.pk]) for one in lists]
    return sorted(lines, key=lambda line: line.read.standing == ReadStanding.READ)
