"""The bench page of a ticket, and what takes it on: onto the bench, a checklist begun, waiting, work done."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from diagnosis.models import Checklist, Step
from diagnosis.runs import NotCovered
from diagnosis.steps import current_checklists
from workshop.bench.bench_times import ticket_time
from workshop.bench.board import may_work
from workshop.bench.finding_forms import FreeFindingForm
from workshop.bench.finding_pages import shown_findings
from workshop.bench.forms import FinishForm, SeenForm, WaitForm
from workshop.bench.job import JobShown
from workshop.bench.planning import planned_runs
from workshop.bench.resolving import ask_parts, resolve_first
from workshop.bench.timers import timers_of
from workshop.charges.decided import answers_to, decided
from workshop.promise.honest import mark_promises, promise_of
from workshop.promise.squeezed import keep_squeezed_in, pushed_by_taking, pushed_in_words, pushed_key
from workshop.signed.standing import read_throughs
from workshop.tickets.models import Ticket
from workshop.tickets.refusals import MOVE_REFUSED, refusal_words
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop, bench_only
from workshop.web.versions import StaleVersion
from workshop.work.bench_proof import finish_bench_work
from workshop.work.event_words import logged_words
from workshop.work.findings import findings_on
from workshop.work.moves import AgreementMissing, DangerUnanswered, LeftOpen, ProofMissing, move
from workshop.work.proof import missing_proof_of
from workshop.work.unresolved import PartsUnresolved
from workshop.work.unsafe import left_unsafe, unsafe_of
from workshop.work.work import (
    CannotPutAway,
    NotOnTheBench,
    arrival_settings,
    bench_ticket,
    checklists_for,
    fork_values,
    put_away_run,
    run_of,
    run_states,
    start_checklist,
    take_onto_the_bench,
)

CONFLICT, REFUSED = 409, 422
AND_READY = "Keep this, and it is ready"


@require_GET
@anyone_in_the_shop
def ticket(request: ShopRequest, number: int) -> HttpResponse:
    return show_ticket(request, bench_ticket(request.shop, number))


def show_ticket(request: ShopRequest, the_ticket: Ticket, status: int = 200, **refused: Any) -> HttpResponse:
    """The page; refused forms take the place of empty ones."""
    runs = planned_runs(run_states(the_ticket), the_ticket, request.shop, fork_values(the_ticket))
    states = [planned.run_state for planned in runs]
    current = current_checklists()
    complaints = the_ticket.complaint_keys()
    today = timezone.localdate()
    danger = promise_of(the_ticket, today)
    mark_promises([the_ticket], [danger] if danger else [])
    offered = checklists_for(the_ticket.unit, complaints, states, current)
    findings = findings_on(the_ticket, states)
    missing = missing_proof_of(the_ticket, states, current, complaints)
    read = read_throughs(request.shop, [*(state.run.checklist for state in states), *offered.suggested])
    unsafe = unsafe_of(the_ticket, states, findings)
    context = {
        "ticket": the_ticket,
        "decided": decided(the_ticket, answers_to(the_ticket), unsafe.words),
        "today": today,
        "runs": [(planned, read[planned.run_state.run.checklist_id]) for planned in runs],
        "job": JobShown(runs),
        "time": ticket_time(states),
        "run_states": states,
        "findings": shown_findings(the_ticket, states, request.user, findings=findings),
        "seen_form": FreeFindingForm(),
        "suggested": offered.suggested,
        "to_begin": [(checklist, read[checklist.pk]) for checklist in offered.suggested],
        "other_checklists": offered.others,
        "not_covered": offered.refused,
        "arrival": arrival_settings(the_ticket),
        "missing_proof": [entry for entry in missing if not (entry.is_danger or entry.must_not_ride)],
        "left_open": [entry for entry in missing if entry.is_danger or entry.must_not_ride],
        "proof_is_next": all(state.next is None or state.next.step.kind == Step.Kind.PROOF for state in states),
        "timers": timers_of(states, the_ticket.number),
        "finish_form": FinishForm(initial={"version": the_ticket.version}),
        "wait_form": WaitForm(initial={"version": the_ticket.version}),
        "may_work": may_work(request.user),
        "unsafe": unsafe,
        "came_back_unsafe": left_unsafe(the_ticket.unit, the_ticket),
        **refused,
    }
    return render(request, "bench/ticket.html", context, status=status)


@require_POST
@bench_only
def take(request: ShopRequest, number: int) -> HttpResponse:
    the_ticket = bench_ticket(request.shop, number)
    form = SeenForm(request.POST)
    seen = form.cleaned_data["version"] if form.is_valid() else the_ticket.version
    today = timezone.localdate()
    pushed = pushed_by_taking(request.shop, today, ticket=the_ticket.pk)
    known = pushed_key(today, pushed)
    if pushed and seen == the_ticket.version and request.POST.get("pushed_known") != known:
        return show_ticket(request, the_ticket, REFUSED, pushed=pushed_in_words(pushed), pushed_known=known)
    try:
        with transaction.atomic():
            take_onto_the_bench(ticket=the_ticket, by=request.user, seen_version=seen)
            keep_squeezed_in(ticket=the_ticket, by=request.user, pushed=pushed)
    except MOVE_REFUSED as error:
        return _changed_meanwhile(request, number, error)
    return redirect("bench:ticket", number)


@require_POST
@bench_only
def start(request: ShopRequest, number: int, key: str) -> HttpResponse:
    the_ticket = bench_ticket(request.shop, number)
    checklist = get_object_or_404(Checklist, key=key, is_current=True)
    try:
        run = start_checklist(ticket=the_ticket, checklist=checklist, by=request.user)
    except (NotOnTheBench, NotCovered) as error:
        messages.error(request, str(error))
        return redirect("bench:ticket", number)
    return redirect("bench:run", number, run.pk)


@require_POST
@bench_only
def put_away(request: ShopRequest, number: int, run_pk: int) -> HttpResponse:
    the_ticket = bench_ticket(request.shop, number)
    try:
        put_away_run(ticket=the_ticket, run=run_of(the_ticket, run_pk), by=request.user)
    except CannotPutAway as error:
        messages.error(request, str(error))
    return redirect("bench:ticket", number)


@require_POST
@bench_only
def wait(request: ShopRequest, number: int) -> HttpResponse:
    the_ticket = bench_ticket(request.shop, number)
    form = WaitForm(request.POST)
    if not form.is_valid():
        return show_ticket(request, the_ticket, REFUSED, wait_form=form)
    try:
        move(
            ticket=the_ticket,
            to_state=Ticket.State.WAITING,
            waiting_for=form.cleaned_data["waiting_for"],
            reason=form.cleaned_data["reason"],
            by=request.user,
            seen_version=form.cleaned_data["version"],
        )
    except MOVE_REFUSED as error:
        return _changed_meanwhile(request, number, error, wait_form=form)
    messages.success(request, f"Ticket {number} is {the_ticket.state_words.lower()}.")
    return redirect("bench:ticket", number)


@require_POST
@bench_only
def finish(request: ShopRequest, number: int) -> HttpResponse:
    the_ticket = bench_ticket(request.shop, number)
    form = FinishForm(request.POST)
    if not form.is_valid():
        return show_ticket(request, the_ticket, REFUSED, finish_form=form)
    if form.cleaned_data["version"] != the_ticket.version:
        return _changed_meanwhile(request, number, StaleVersion(the_ticket), finish_form=form)
    if (asked := resolve_first(request, the_ticket, AND_READY)) is not None:
        return asked
    try:
        finish_bench_work(
            ticket=the_ticket,
            by=request.user,
            seen_version=form.cleaned_data["version"],
            reason_without_proof=form.cleaned_data["reason"],
        )
    except PartsUnresolved:
        return ask_parts(request, the_ticket, AND_READY)
    except (AgreementMissing, DangerUnanswered, LeftOpen) as error:
        return show_ticket(request, bench_ticket(request.shop, number), REFUSED, finish_form=form, conflict=str(error))
    except ProofMissing as error:
        form.add_error("reason", f"{error} Prove it, or enter here why it is released without it.")
        return show_ticket(request, bench_ticket(request.shop, number), REFUSED, finish_form=form)
    except MOVE_REFUSED as error:
        return _changed_meanwhile(request, number, error, finish_form=form)
    messages.success(request, f"Ticket {number} is ready. The counter sees it.")
    return redirect("bench:board")


def _changed_meanwhile(request: ShopRequest, number: int, error: Exception, **forms: Any) -> HttpResponse:
    """The page as it is now, what was typed kept, and what happened since."""
    fresh = bench_ticket(request.shop, number)
    said = refusal_words(error)
    if isinstance(error, StaleVersion):
        last = fresh.events.select_related("by").first()
        said = "Somebody changed this ticket meanwhile."
        if last is not None:
            said += f" Last: {logged_words(last, request.shop)}" + (f", {last.by}." if last.by else ".")
        said += " Look at it, then press again if it still holds."
    for form in forms.values():
        form.data = {**dict(form.data.items()), "version": str(fresh.version)}
    return show_ticket(request, fresh, CONFLICT, conflict=said, **forms)
