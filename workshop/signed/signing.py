"""Signing a version of a checklist, and taking a signature back. One transaction each."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import PermissionDenied, ValidationError
from django.db import IntegrityError, transaction
from django.db.models import F
from django.utils import timezone

from diagnosis.models import Checklist
from diagnosis.stored import plan_of
from workshop.signed.models import ChecklistSignature
from workshop.signed.standing import read_versions
from workshop.staff.models import Shop, User
from workshop.staff.roles import Right, sets_with
from workshop.web.versions import StaleVersion

LONGEST_REASON = 400


@transaction.atomic
def sign(*, shop: Shop, checklist: Checklist, seen_wording: int, by: User) -> ChecklistSignature:
    """Put a name under the version that was read. Signed by them before, it stays as it was.

    Raises:
        PermissionDenied: they may not sign in this shop.
        StaleVersion: it is not in use any more, or a cause was worded anew since it was opened.
    """
    if by.shop_id != shop.pk or not by.may(Right.SIGN_CHECKLISTS):
        raise PermissionDenied
    # An UPDATE that changes nothing: whoever puts another version in use waits, or was first.
    seen = Checklist.objects.filter(pk=checklist.pk, is_current=True, wording=seen_wording)
    if not seen.update(wording=F("wording")):
        checklist.refresh_from_db()
        raise StaleVersion(checklist)
    one = ChecklistSignature(
        shop=shop,
        checklist=checklist,
        wording=seen_wording,
        words=words_beside(checklist),
        by=by,
        signed_at=timezone.now(),
        as_author=by.pk in authors_to_answer(shop, checklist),
    )
    one.full_clean(exclude=["words"], validate_constraints=False)
    try:
        with transaction.atomic():
            one.save()
    except IntegrityError:
        return ChecklistSignature.objects.get(
            shop=shop, checklist=checklist, wording=seen_wording, by=by, taken_back_at=None
        )
    return one


@transaction.atomic
def take_signature_back(*, signature: ChecklistSignature, reason: str, by: User) -> ChecklistSignature:
    """Say that the signature holds no longer, and why. Whoever gave it may, and who runs the shop.

    Raises:
        PermissionDenied: it is somebody else's.
        ValidationError: without a reason.
        StaleVersion: it was taken back before.
    """
    if not may_take_back(signature, by):
        raise PermissionDenied
    why = reason.strip()
    if not why:
        raise ValidationError({"reason": "Say why it no longer holds."})
    if len(why) > LONGEST_REASON:
        raise ValidationError({"reason": f"Keep the reason to {LONGEST_REASON} characters."})
    standing = ChecklistSignature.objects.filter(pk=signature.pk, taken_back_at=None)
    if not standing.update(taken_back_at=timezone.now(), taken_back_by=by, taken_back_why=why):
        raise StaleVersion(signature)
    signature.refresh_from_db()
    return signature


def may_take_back(signature: ChecklistSignature, by: User) -> bool:
    """Whether it is theirs to take back."""
    return by.shop_id == signature.shop_id and (by.pk == signature.by_id or by.may(Right.RUN_THE_SHOP))


def authors_to_answer(shop: Shop, checklist: Checklist) -> set[int]:
    """Who wrote what a signature under this version would vouch for, by their key in the database.

    That is this version, and those before it as far back as to the last that was read or shipped: of their changes
    nobody else has said anything.
    """
    versions = Checklist.objects.filter(key=checklist.key, number__lte=checklist.number).order_by("-number")
    read = read_versions(shop, checklist.key)
    authors: set[int] = set()
    for version in versions.prefetch_related("written_by"):
        if version.pk != checklist.pk and version.pk in read:
            break
        authors |= {author.pk for author in version.written_by.all()}
        if version.origin == Checklist.Origin.SHIPPED:
            break
    return authors


def others_who_may_sign(shop: Shop, by: User) -> bool:
    """Whether anybody else works in the shop who could be the second person."""
    roles = sets_with(Right.SIGN_CHECKLISTS)
    return User.objects.filter(shop=shop, is_active=True, roles__in=roles).exclude(pk=by.pk).exists()


def words_beside(checklist: Checklist) -> dict[str, Any]:
    """What a version says and does not keep itself: the words of its complaint and of its causes."""
    plan = plan_of(checklist)
    return {
        "complaint": {"title": plan.complaint.title, "symptoms": list(plan.complaint.symptoms)},
        "is_routine": plan.is_routine,
        "causes": {
            cause.key: {"title": cause.title, "for_customer": cause.for_customer, "ends_life": list(cause.ends_life)}
            for cause in plan.causes
        },
    }
