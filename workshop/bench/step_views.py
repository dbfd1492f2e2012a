"""One step at a time: the page of a step, its answer, taking it back, its timer and its photos."""

from __future__ import annotations

import uuid
from typing import Any

from django.core.exceptions import ValidationError
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_POST
from django_htmx.http import HttpResponseClientRedirect

from diagnosis.models import StepTimer
from diagnosis.runs import ReadingsMissing, StaleRun, TickRefused
from diagnosis.runs_readings import ReadingsRefused
from diagnosis.runs_timers import start_timer, stop_timer
from workshop.bench.forms_steps import PhotoForm, TakeBackForm
from workshop.bench.judging import evidence_for
from workshop.bench.step_form import StepForm
from workshop.bench.step_page import StepPage, open_step
from workshop.bench.ticking import answer_step, take_answer_back
from workshop.bench.work import NotOnTheBench, bench_ticket, run_of
from workshop.staff.models import User
from workshop.tickets.photos import add_photo
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop, for_roles

CONFLICT, REFUSED = 409, 422


@require_GET
@anyone_in_the_shop
def run(request: ShopRequest, number: int, run_pk: int) -> HttpResponse:
    """To the next step of a run, or to the ticket when there is none."""
    return redirect(open_step(request, number, run_pk, None).next_url())


@require_GET
@anyone_in_the_shop
def step(request: ShopRequest, number: int, run_pk: int, key: str) -> HttpResponse:
    page = open_step(request, number, run_pk, key)
    return _show(request, page, StepForm(page.state, request.shop, page.run_state.version))


@require_POST
@for_roles(User.Role.MECHANIC)
def answer(request: ShopRequest, number: int, run_pk: int, key: str) -> HttpResponse:
    page = open_step(request, number, run_pk, key)
    form = StepForm(page.state, request.shop, page.run_state.version, request.POST)
    pressed = request.POST.get("outcome", "")
    if not form.is_valid():
        return _show(request, page, form, REFUSED)
    try:
        answer_step(
            ticket=page.ticket,
            run_state=page.run_state,
            state=page.state,
            values=page.values,
            by=request.user,
            sent=form.sent(pressed),
        )
    except StaleRun as stale:
        form.seen_now(stale.run.version)
        fresh = open_step(request, number, run_pk, key)
        return _show(
            request, fresh, form, CONFLICT, since=stale.since, wanted=_words_of(fresh, pressed), outcome=pressed
        )
    except ReadingsRefused as refused:
        form.refuse_readings(refused.errors)
    except ReadingsMissing as missing:
        form.refuse_readings(dict.fromkeys(missing.labels, "This step cannot be answered without it. Enter it."))
    except (TickRefused, NotOnTheBench) as refused:
        form.add_error(None, str(refused))
    else:
        return _go_on(request, page.moved_on(came_from=key))
    return _show(request, page, form, REFUSED)


@require_POST
@for_roles(User.Role.MECHANIC)
def take_back(request: ShopRequest, number: int, run_pk: int, key: str) -> HttpResponse:
    page = open_step(request, number, run_pk, key)
    sent = TakeBackForm(request.POST)
    if not sent.is_valid():
        return _show(request, page, StepForm(page.state, request.shop, page.run_state.version), REFUSED)
    extra: dict[str, Any] = {}
    status = 200
    try:
        take_answer_back(
            ticket=page.ticket,
            run=page.run_state.run,
            state=page.state,
            by=request.user,
            seen_version=sent.cleaned_data["version"],
            client_id=sent.cleaned_data["client_id"],
        )
    except StaleRun as stale:
        status, extra = CONFLICT, {"since": stale.since}
    except (TickRefused, NotOnTheBench) as refused:
        status, extra = REFUSED, {"refused": str(refused)}
    fresh = open_step(request, number, run_pk, key)
    if status == 200 and not request.htmx:
        return redirect(fresh.url())
    return _show(request, fresh, StepForm(fresh.state, request.shop, fresh.run_state.version), status, **extra)


@require_POST
@for_roles(User.Role.MECHANIC)
def judge(request: ShopRequest, number: int, run_pk: int, key: str) -> HttpResponse:
    """What the readings typed so far would mean; nothing is saved."""
    page = open_step(request, number, run_pk, key)
    form = StepForm(page.state, request.shop, page.run_state.version, request.POST)
    evidence = evidence_for(request.shop, page.values, page.run_state, page.state, form.typed())
    return render(request, "bench/_evidence.html", {"evidence": evidence})


@require_POST
@for_roles(User.Role.MECHANIC)
def start(request: ShopRequest, number: int, run_pk: int, key: str) -> HttpResponse:
    """Start the step's timer."""
    page = open_step(request, number, run_pk, key)
    try:
        client_id = uuid.UUID(request.POST.get("client_id", ""))
    except ValueError:
        client_id = uuid.uuid4()
    try:
        start_timer(run=page.run_state.run, step_key=key, by=request.user, client_id=client_id)
    except TickRefused as refused:
        raise Http404(str(refused)) from refused
    return _timers_of(request, number, run_pk, key)


@require_POST
@for_roles(User.Role.MECHANIC)
def stop(request: ShopRequest, number: int, run_pk: int, timer_pk: int) -> HttpResponse:
    the_run = run_of(bench_ticket(request.shop, number), run_pk)
    timer = get_object_or_404(StepTimer.objects.select_related("step"), pk=timer_pk, run=the_run)
    stop_timer(timer=timer)
    return _timers_of(request, number, run_pk, request.POST.get("from") or timer.step.key)


@require_POST
@for_roles(User.Role.MECHANIC)
def photo(request: ShopRequest, number: int, run_pk: int, key: str) -> HttpResponse:
    page = open_step(request, number, run_pk, key)
    form = PhotoForm(request.POST, request.FILES)
    error = ""
    if form.is_valid():
        try:
            add_photo(
                ticket=page.ticket,
                step=page.state.step,
                by=request.user,
                photo=form.cleaned_data["photo"],
                client_id=form.cleaned_data["client_id"],
            )
        except ValidationError as refused:
            error = " ".join(refused.messages)
    else:
        error = " ".join(str(reason) for reasons in form.errors.values() for reason in reasons)
    fresh = open_step(request, number, run_pk, key)
    if request.htmx:
        context = fresh.context() | {"photo_error": error, "new_id": uuid.uuid4()}
        return render(request, "bench/_step_photos.html", context, status=REFUSED if error else 200)
    form_of_step = StepForm(fresh.state, request.shop, fresh.run_state.version)
    return _show(request, fresh, form_of_step, REFUSED, photo_error=error) if error else redirect(fresh.url())


def _timers_of(request: ShopRequest, number: int, run_pk: int, key: str) -> HttpResponse:
    page = open_step(request, number, run_pk, key)
    if request.htmx:
        return render(request, "bench/_step_timer.html", page.context() | {"new_id": uuid.uuid4()})
    return redirect(page.url())


def _go_on(request: ShopRequest, page: StepPage) -> HttpResponse:
    """After an answer: the next step, or the ticket when nothing is left."""
    url = page.next_url()
    if not request.htmx:
        return redirect(url)
    if page.run_state.next is None:
        return HttpResponseClientRedirect(url)
    response = _show(request, page, StepForm(page.state, request.shop, page.run_state.version))
    response["HX-Push-Url"] = url
    return response


def _show(request: ShopRequest, page: StepPage, form: StepForm, status: int = 200, **extra: Any) -> HttpResponse:
    typed = form.typed() if form.is_bound else {}
    context = page.context() | {
        "form": form,
        "evidence": evidence_for(request.shop, page.values, page.run_state, page.state, typed),
        "new_id": uuid.uuid4(),
        **extra,
    }
    template = "bench/_work.html" if request.htmx else "bench/step.html"
    response = render(request, template, context, status=status)
    if status == REFUSED:
        response["HX-Reswap"] = "outerHTML"  # not to the top of the page: the focus goes to what is to be put right
    return response


def _words_of(page: StepPage, pressed: str) -> str:
    """The words on the button that was pressed."""
    for button in page.cause_buttons():
        if button.value == pressed:
            return f"Found: {button.label}"
    return next((button.label for button in page.buttons() if button.value == pressed), pressed)
