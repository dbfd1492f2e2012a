"""Torque tools in the Stores, and the bolts of a ticket as a fragment for the Bench."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db.models import OuterRef, Subquery
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from diagnosis.layout_plans import BOLTS
from diagnosis.models import Run, Step
from workshop.counter.saving import edit_page, put_beside_fields, seen_version
from workshop.staff.roles import Right
from workshop.stores.torque_forms import BoltForm, ToolForm
from workshop.stores.torque_page import bolts_context
from workshop.tickets.access import ticket_of
from workshop.tickets.models import Ticket, TicketRun
from workshop.torque.bolts import BoltDoubtful, BoltRefused, CannotCountersign, countersign, record_bolt
from workshop.torque.care_models import Calibration, ToolLoan
from workshop.torque.models import BoltRecord, TorqueTool
from workshop.torque.tools import calibration_mark, change_tool, register_tool, set_retired, tools_of
from workshop.web.converters import key_from
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop, with_right
from workshop.web.versions import StaleVersion

REFUSED = 422


@require_GET
@anyone_in_the_shop
def tools(request: ShopRequest) -> HttpResponse:
    today = timezone.localdate()
    listed = tools_of(request.shop, with_retired=True)
    lent = ToolLoan.objects.filter(tool=OuterRef("pk"), back_at=None).values("to")[:1]
    rows = [(tool, calibration_mark(tool, today)) for tool in listed.annotate(lent_to=Subquery(lent))]
    may_change = request.user.may(Right.KEEP_TOOLS)
    return render(request, "stores/torque_tools.html", {"rows": rows, "may_change": may_change})


@require_http_methods(["GET", "HEAD", "POST"])
@with_right(Right.KEEP_TOOLS)
def add_tool(request: ShopRequest) -> HttpResponse:
    form = ToolForm(request.shop, request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            tool = register_tool(shop=request.shop, **form.cleaned_data)
        except ValidationError as error:
            put_beside_fields(form, error)
        else:
            messages.success(request, f"{tool} is in the list.")
            return redirect("stores:torque_tools")
    status = REFUSED if form.is_bound else 200
    return render(request, "stores/torque_tool_edit.html", {"form": form, "tool": None}, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
@with_right(Right.KEEP_TOOLS)
def edit_tool(request: ShopRequest, pk: int) -> HttpResponse:
    tool = get_object_or_404(TorqueTool, shop=request.shop, pk=pk)
    known = {"has_calibrations": Calibration.objects.filter(tool=tool).exists()}
    form = (
        ToolForm(request.shop, request.POST, **known)
        if request.method == "POST"
        else ToolForm.of(request.shop, tool, **known)
    )
    return edit_page(
        request,
        template="stores/torque_tool_edit.html",
        form=form,
        version=tool.version,
        save=lambda seen: change_tool(tool=tool, seen_version=seen, **(form.dates_of(tool) | form.cleaned_data)),
        form_of=lambda stored: ToolForm.of(request.shop, stored, **known),
        done_url=reverse("stores:torque_tools"),
        said="The tool is saved.",
        context={"tool": tool},
    )


@require_POST
@with_right(Right.KEEP_TOOLS)
def retire_tool(request: ShopRequest, pk: int) -> HttpResponse:
    """Take a tool out of use, or with `retired=0` back into it."""
    tool = get_object_or_404(TorqueTool, shop=request.shop, pk=pk)
    retired = request.POST.get("retired") != "0"
    try:
        set_retired(tool=tool, seen_version=seen_version(request), retired=retired)
    except StaleVersion:
        messages.error(request, f"Somebody changed {tool.number} meanwhile. Look at it again first.")
    else:
        messages.success(request, f"{tool.number} is {'retired' if retired else 'in use again'}.")
    return redirect("stores:torque_tools")


@require_GET
@anyone_in_the_shop
def bolts(request: ShopRequest, number: int) -> HttpResponse:
    ticket, run, step = _place(request, number)
    return _show_bolts(request, bolts_context(ticket, request.user, run=run, step=step))


@require_POST
@with_right(Right.KEEP_TOOLS)
def record(request: ShopRequest, number: int, bolt: str) -> HttpResponse:
    if bolt not in BOLTS:
        raise Http404(f"There is no bolt {bolt}.")
    ticket, run, step = _place(request, number)
    form = BoltForm(request.shop, bolt, list(tools_of(request.shop)), request.POST)
    if form.is_valid():
        try:
            record_bolt(
                ticket=ticket,
                bolt=bolt,
                typed=form.typed,
                by=request.user,
                client_id=form.cleaned_data["client_id"],
                tool=form.tool,
                run=run,
                step=step,
                reason=" ".join(form.cleaned_data["reason"].split()),
            )
        except BoltRefused as refused:
            form.is_doubted = isinstance(refused, BoltDoubtful)
            form.add_error(refused.field, str(refused))
        else:
            return _done(request, ticket, run, step)
    context = bolts_context(ticket, request.user, run=run, step=step, refused_form=(bolt, form))
    return _show_bolts(request, context, REFUSED)


@require_POST
@with_right(Right.KEEP_TOOLS)
def sign(request: ShopRequest, number: int, pk: int) -> HttpResponse:
    ticket, run, step = _place(request, number)
    stored = get_object_or_404(BoltRecord, pk=pk, ticket=ticket)
    try:
        countersign(record=stored, by=request.user)
    except CannotCountersign as refused:
        why = (stored.bolt, str(refused))
        context = bolts_context(ticket, request.user, run=run, step=step, refused_countersign=why)
        return _show_bolts(request, context, REFUSED)
    return _done(request, ticket, run, step)


def _place(request: ShopRequest, number: int) -> tuple[Ticket, Run | None, Step | None]:
    """The ticket, and the run and step it is looked at from; those of another ticket are left aside."""
    ticket = ticket_of(request.shop, number, Ticket.objects.with_names().select_related("shop"))
    asked = request.POST if request.method == "POST" else request.GET
    run_pk, step_key = key_from(asked.get("run")), asked.get("step", "")
    if run_pk is None:
        return ticket, None, None
    row = TicketRun.objects.filter(ticket=ticket, run=run_pk).select_related("run").first()
    if row is None:
        return ticket, None, None
    return ticket, row.run, Step.objects.filter(checklist=row.run.checklist_id, key=step_key[:60]).first()


def _done(request: ShopRequest, ticket: Ticket, run: Run | None, step: Step | None) -> HttpResponse:
    if request.htmx:
        return _show_bolts(request, bolts_context(ticket, request.user, run=run, step=step))
    if run is not None and step is not None:
        return redirect("bench:step", ticket.number, run.pk, step.key)
    return redirect("stores:bolts", ticket.number)


def _show_bolts(request: ShopRequest, context: dict[str, Any], status: int = 200) -> HttpResponse:
    template = "bench/_bolts.html" if request.htmx else "stores/torque_bolts.html"
    return render(request, template, context, status=status)
