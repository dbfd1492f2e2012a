"""Findings of a ticket: noting what no step asks for, and saying what answers one."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST

from diagnosis.models import Step
from workshop.bench.finding_forms import FindingAnswerForm, FreeFindingForm
from workshop.bench.finding_pages import shown_findings
from workshop.bench.step_page import open_step
from workshop.bench.ticket_views import show_ticket
from workshop.tickets.models import FreeFinding, Ticket
from workshop.web.converters import key_from
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop, bench_only
from workshop.work.finding_answers import (
    FindingRefused,
    answer_finding,
    note_finding,
    reopen_finding,
    withdraw_finding,
)
from workshop.work.findings import findings_on, what_came_after
from workshop.work.work import bench_ticket, run_states

REFUSED = 422


@require_POST
@bench_only
def note(request: ShopRequest, number: int) -> HttpResponse:
    """Note what was seen. From a step the tablet gets the list of that step back, as with a photo."""
    the_ticket = bench_ticket(request.shop, number)
    form = FreeFindingForm(request.POST)
    step = _step_of(the_ticket, request)
    if form.is_valid():
        try:
            note_finding(ticket=the_ticket, step=step, by=request.user, **form.cleaned_data)
        except (FindingRefused, ValidationError) as error:
            _put_beside(form, error)
    refused = bool(form.errors)
    run_pk = key_from(request.POST.get("run", ""))
    if request.htmx and step is not None and run_pk is not None:
        page = open_step(request, number, run_pk, step.key)
        context = page.context() | {"seen_form": form if refused else FreeFindingForm()}
        return render(request, "bench/_step_findings.html", context, status=REFUSED if refused else 200)
    if refused:
        return show_ticket(request, bench_ticket(request.shop, number), REFUSED, seen_form=form)
    messages.success(request, "It is noted on the ticket.")
    if step is not None and run_pk is not None:
        return redirect("bench:step", number, run_pk, step.key)
    return redirect(_findings_of(number))


@require_POST
@bench_only
def withdraw(request: ShopRequest, number: int, pk: int) -> HttpResponse:
    """It was a mistake."""
    the_ticket = bench_ticket(request.shop, number)
    finding = get_object_or_404(FreeFinding.objects.select_related("ticket"), ticket=the_ticket, pk=pk)
    try:
        withdraw_finding(finding=finding, by=request.user)
    except ValidationError as refused:
        messages.error(request, " ".join(refused.messages))
    return redirect(_findings_of(number))


@require_POST
@anyone_in_the_shop
def answer(request: ShopRequest, number: int, token: str) -> HttpResponse:
    """Keep what answers a finding; refused, the page comes back with what was typed and why."""
    the_ticket = bench_ticket(request.shop, number)
    states = run_states(the_ticket)
    finding = next((one for one in findings_on(the_ticket, states) if one.token == token), None)
    if finding is None:
        messages.error(request, "That finding is no longer on this ticket.")
        return redirect(_findings_of(number))
    form = FindingAnswerForm(finding, what_came_after(the_ticket, finding, states), request.POST)
    if form.is_valid():
        try:
            answer_finding(ticket=the_ticket, states=states, token=token, by=request.user, **form.cleaned_data)
        except (FindingRefused, ValidationError) as refused:
            _put_beside(form, refused)
    if form.errors:
        fresh = bench_ticket(request.shop, number)
        shown = shown_findings(fresh, run_states(fresh), request.user, refused={token: form})
        return show_ticket(request, fresh, REFUSED, findings=shown)
    return redirect(_findings_of(number))


@require_POST
@anyone_in_the_shop
def reopen(request: ShopRequest, number: int, token: str) -> HttpResponse:
    """Take back what was said to a finding."""
    the_ticket = bench_ticket(request.shop, number)
    try:
        reopen_finding(ticket=the_ticket, states=run_states(the_ticket), token=token, by=request.user)
    except FindingRefused as refused:
        messages.error(request, str(refused))
    except ValidationError as refused:
        messages.error(request, " ".join(refused.messages))
    return redirect(_findings_of(number))


def _findings_of(number: int) -> str:
    return f"{reverse('bench:ticket', args=[number])}#findings-title"


def _step_of(ticket: Ticket, request: ShopRequest) -> Step | None:
    """The step at which it was seen; None where none of the ticket's was named."""
    run_pk, key = key_from(request.POST.get("run", "")), request.POST.get("step", "")
    if run_pk is None or not key:
        return None
    return Step.objects.filter(key=key, checklist__runs__in=ticket.ticket_runs.filter(run=run_pk).values("run")).first()


def _put_beside(form: Any, refused: Exception) -> None:
    """Each reason beside its field, where the form has it."""
    if isinstance(refused, ValidationError):
        form.add_error(None, refused.messages)
        return
    field = getattr(refused, "field", "")
    form.add_error(field if field in form.fields and not form.fields[field].widget.is_hidden else None, str(refused))
