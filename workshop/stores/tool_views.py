"""One torque tool: its calibrations with their certificates, who has it, and its checks."""

from __future__ import annotations

from http import HTTPStatus
from typing import Any

from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from workshop.counter.saving import CHANGED_MEANWHILE, REFUSED, put_beside_fields, seen_version
from workshop.staff.roles import Right
from workshop.stores.tool_forms import CalibrationForm, CheckForm, LendForm
from workshop.torque.care import add_calibration, bring_back_tool, check_tool, lend
from workshop.torque.care_models import Calibration, ToolCheck, ToolLoan
from workshop.torque.models import TorqueTool
from workshop.torque.tools import calibration_mark, deviation_of, outside_mark
from workshop.web.converters import key_from
from workshop.web.handing_out import hand_out
from workshop.web.once import sent_once
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop, with_right
from workshop.web.stretch import stretch_of
from workshop.web.versions import StaleVersion

CHECKS_A_PAGE = 30
MOST_ROWS = 50
_CONTENT_TYPES = {"pdf": "application/pdf", "jpg": "image/jpeg"}


@require_GET
@anyone_in_the_shop
def tool(request: ShopRequest, pk: int) -> HttpResponse:
    return render(request, "stores/torque_tool.html", _shown(request, _tool(request, pk)))


@require_POST
@with_right(Right.KEEP_TOOLS)
@sent_once
def calibrate(request: ShopRequest, pk: int) -> HttpResponse:
    """Add a calibration with its certificate. A file has to be chosen again where something is refused."""
    the_tool = _tool(request, pk)
    form = CalibrationForm(request.POST, request.FILES)
    status = REFUSED
    if form.is_valid():
        try:
            add_calibration(tool=the_tool, by=request.user, seen_version=seen_version(request), **form.typed)
        except StaleVersion:
            status = CHANGED_MEANWHILE
            said = "Somebody changed this tool meanwhile. What you typed is kept: look at the tool, then send it again."
            form.add_error(None, said)
        except ValidationError as refused:
            put_beside_fields(form, refused)
        else:
            messages.success(request, f"The calibration of {the_tool.number} is kept.")
            return redirect("stores:torque_tool", pk)
    the_tool.refresh_from_db()
    return render(request, "stores/torque_tool.html", _shown(request, the_tool, calibration_form=form), status=status)


@require_POST
@with_right(Right.KEEP_TOOLS)
@sent_once
def lend_out(request: ShopRequest, pk: int) -> HttpResponse:
    the_tool = _tool(request, pk)
    form = LendForm(request.POST)
    if form.is_valid():
        try:
            loan = lend(tool=the_tool, by=request.user, **form.cleaned_data)
        except ValidationError as refused:
            put_beside_fields(form, refused)
        else:
            messages.success(request, f"{the_tool.number} is lent to {loan.to}.")
            return redirect("stores:torque_tool", pk)
    return render(request, "stores/torque_tool.html", _shown(request, the_tool, lend_form=form), status=REFUSED)


@require_POST
@with_right(Right.KEEP_TOOLS)
def give_back(request: ShopRequest, pk: int) -> HttpResponse:
    the_tool = _tool(request, pk)
    if bring_back_tool(tool=the_tool, by=request.user) is None:
        messages.info(request, f"{the_tool.number} is here already.")
    else:
        messages.success(request, f"{the_tool.number} is back.")
    return redirect("stores:torque_tool", pk)


@require_POST
@with_right(Right.KEEP_TOOLS)
@sent_once
def check(request: ShopRequest, pk: int) -> HttpResponse:
    the_tool = _tool(request, pk)
    form = CheckForm(request.shop, request.POST)
    if form.is_valid():
        try:
            made = check_tool(tool=the_tool, by=request.user, **form.cleaned_data)
        except ValidationError as refused:
            put_beside_fields(form, refused)
        else:
            if made.within:
                messages.success(request, f"{the_tool.number} is within its class.")
            else:
                said = "A bolt tightened with it counts only after a second-person check."
                messages.warning(request, f"{the_tool.number} is outside its class. {said}")
            return redirect("stores:torque_tool", pk)
    return render(request, "stores/torque_tool.html", _shown(request, the_tool, check_form=form), status=REFUSED)


@require_GET
@anyone_in_the_shop
def certificate(request: ShopRequest, pk: int) -> HttpResponse:
    """Hand the certificate out as a file: it is somebody else's, so no page of the app ever shows it."""
    row = get_object_or_404(Calibration.objects.select_related("tool"), pk=pk, tool__shop=request.shop)
    if not row.certificate:
        raise Http404
    called = f"certificate-{row.tool.number}-{row.on.isoformat()}.{row.certificate_kind}"
    response = hand_out(
        row.certificate.name, as_attachment=True, filename=called, content_type=_CONTENT_TYPES[row.certificate_kind]
    )
    if response.status_code == HTTPStatus.OK:
        response["Content-Security-Policy"] = "default-src 'none'; sandbox"
    return response


def _tool(request: ShopRequest, pk: int) -> TorqueTool:
    return get_object_or_404(TorqueTool, shop=request.shop, pk=pk)


def _shown(request: ShopRequest, tool: TorqueTool, **sent: forms.Form) -> dict[str, Any]:
    today = timezone.localdate()
    loans = list(ToolLoan.objects.filter(tool=tool).select_related("lent_by", "back_by")[:MOST_ROWS])
    before = key_from(request.GET.get("before"))
    checks = ToolCheck.objects.filter(tool=tool).select_related("by")
    if before is not None:
        checks = checks.filter(pk__lt=before)
    page = stretch_of(checks, CHECKS_A_PAGE, key=_key, is_later=before is not None)
    context: dict[str, Any] = {
        "tool": tool,
        "marks": [mark for mark in (calibration_mark(tool, today), outside_mark(tool)) if mark],
        "allowed_percent": 100 * deviation_of(tool),
        "calibrations": Calibration.objects.filter(tool=tool).select_related("entered_by")[:MOST_ROWS],
        "loans": loans,
        "lent": next((loan for loan in loans if loan.back_at is None), None),
        "page": page,
        "may_change": request.user.may(Right.KEEP_TOOLS),
        "calibration_form": CalibrationForm(),
        "lend_form": LendForm(),
        "check_form": CheckForm(request.shop),
    }
    return context | sent


def _key(check: ToolCheck) -> int:
    return check.pk
