"""Caring for torque tools: calibrations, loans and checks against a reference."""

from __future__ import annotations

import datetime as dt

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from specs.units import show
from workshop.staff.models import User
from workshop.torque.care_models import Calibration, ToolCheck, ToolLoan
from workshop.torque.certificates import Certificate, store_certificate
from workshop.torque.models import TorqueTool
from workshop.torque.tools import deviation_of
from workshop.web.day_words import day_in_words
from workshop.web.plausible_days import DayKind, refuse_day
from workshop.web.versions import take_version

Result = Calibration.Result
OutsideBy = TorqueTool.OutsideBy
# A reading beyond twice or under half of the reference is a slip of the decimal point; common practice.
SLIP_FACTOR = 2.0
HAIR_SHARE = 1e-9


@transaction.atomic
def add_calibration(
    *,
    tool: TorqueTool,
    by: User,
    seen_version: int,
    on: dt.date,
    due: dt.date,
    by_whom: str,
    as_left: str,
    as_found: str = Result.NOT_STATED,
    found_share: float | None = None,
    left_share: float | None = None,
    certificate: Certificate | None = None,
) -> Calibration:
    """Add a calibration to the history; the newest one says until when the tool holds, and whether it was left well.

    Raises:
        StaleVersion: somebody changed the tool after its page was opened.
        ValidationError: a day that cannot be meant, due before it was made, or a result that its deviation denies.
    """
    take_version(tool, seen_version)
    refuse_day("on", on, DayKind.HAPPENED)
    refuse_day("due", due, DayKind.HOLDS_UNTIL)
    if due < on:
        raise ValidationError({"due": "A calibration cannot be due before it was made."})
    _refuse_denied(tool, "as_found", as_found, found_share)
    _refuse_denied(tool, "as_left", as_left, left_share)
    calibration = Calibration(
        tool=tool,
        on=on,
        due=due,
        by_whom=by_whom.strip(),
        as_found=as_found,
        as_left=as_left,
        found_share=found_share,
        left_share=left_share,
        certificate_kind=certificate.kind if certificate else "",
        entered_by=by,
        at=timezone.now(),
    )
    if certificate is not None:
        calibration.certificate.name = store_certificate(certificate)
    calibration.full_clean(exclude=["tool", "entered_by"])
    calibration.save()
    newest = Calibration.objects.filter(tool=tool).first()
    if newest == calibration and (tool.calibrated_on is None or on >= tool.calibrated_on):
        tool.calibrated_on, tool.calibrated_until = on, due
        tool.outside_by = OutsideBy.CALIBRATION if as_left == Result.OUTSIDE else ""
        tool.save(update_fields=["calibrated_on", "calibrated_until", "outside_by"])
    return calibration


@transaction.atomic
def lend(*, tool: TorqueTool, to: str, by: User) -> ToolLoan:
    """Lend a tool to somebody. Raises ValidationError where it is lent already, or retired."""
    held = TorqueTool.objects.select_for_update().get(pk=tool.pk)
    out = ToolLoan.objects.filter(tool=held, back_at=None).first()
    if out is not None:
        when = day_in_words(timezone.localtime(out.lent_at).date())
        raise ValidationError({"to": f"{held.number} is lent to {out.to} since {when}. Take it back first."})
    if held.retired:
        raise ValidationError({"to": f"{held.number} is archived."})
    loan = ToolLoan(tool=held, to=" ".join(to.split()), lent_by=by, lent_at=timezone.now())
    loan.full_clean(exclude=["tool", "lent_by", "back_by", "back_at"])
    loan.save()
    return loan


@transaction.atomic
def bring_back_tool(*, tool: TorqueTool, by: User) -> ToolLoan | None:
    """The tool is back; None where it was not lent, so that a second press changes nothing."""
    TorqueTool.objects.select_for_update().only("pk").get(pk=tool.pk)
    loan = ToolLoan.objects.filter(tool=tool, back_at=None).first()
    if loan is not None:
        loan.back_by, loan.back_at = by, timezone.now()
        loan.save(update_fields=["back_by", "back_at"])
    return loan


@transaction.atomic
def check_tool(*, tool: TorqueTool, by: User, reference_nm: float, read_nm: float) -> ToolCheck:
    """Note what a tool read against a reference. Outside its class it cannot be relied on until a check is within.

    Raises:
        ValidationError: a reference outside the tool's range, or a reading that can only be a slip.
    """
    held = TorqueTool.objects.select_for_update().select_related("shop").get(pk=tool.pk)
    unit = held.shop.unit_for("torque")
    if not held.low_nm <= reference_nm <= held.high_nm:
        low, high = (show(value, "torque", unit) for value in (held.low_nm, held.high_nm))
        raise ValidationError({"reference_nm": f"The range of {held.number} is {low} to {high}. Check it in there."})
    if not reference_nm / SLIP_FACTOR <= read_nm <= reference_nm * SLIP_FACTOR:
        read = show(read_nm, "torque", unit)
        said = f"{read} is far from the reference. Look at the decimal point; if it truly reads so, retire the tool."
        raise ValidationError({"read_nm": said})
    allowed = deviation_of(held)
    within = abs(read_nm - reference_nm) <= (allowed + HAIR_SHARE) * reference_nm
    check = ToolCheck.objects.create(
        tool=held, reference_nm=reference_nm, read_nm=read_nm, allowed_share=allowed, within=within, by=by,
        at=timezone.now(),
    )  # fmt: skip
    if held.outside_by != OutsideBy.CALIBRATION:  # only a newer calibration answers that one
        held.outside_by = "" if within else OutsideBy.CHECK
        held.save(update_fields=["outside_by"])
    return check


def _refuse_denied(tool: TorqueTool, field: str, result: str, share: float | None) -> None:
    if share is None:
        return
    allowed = deviation_of(tool)
    outside = share > allowed + HAIR_SHARE
    if outside and result == Result.WITHIN:
        words = f"{share:.1%} is more than the {allowed:.0%} of its class: that is outside it."
        raise ValidationError({field: words.replace("%", " %")})
    if not outside and result == Result.OUTSIDE:
        words = f"{share:.1%} is within the {allowed:.0%} of its class. Look at the deviation again."
        raise ValidationError({field: words.replace("%", " %")})
