"""One step at a time: the page of a step, its answer, taking it back, its timer and its photos."""

from __future__ import annotations

import datetime as dt
import uuid
from typing import Any

from django.core.exceptions import ValidationError
from django.http import Http404, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST
from django_htmx.http import HttpResponseClientRedirect

from diagnosis.models import Run
from diagnosis.runs import ReadingsMissing, StaleRun, TickRefused, WaitsForOthers
from diagnosis.runs_readings import ReadingsRefused
from diagnosis.runs_timers import start_timer, stop_timer
from workshop.bench.photo_forms import PhotoForm
from workshop.bench.ringing import ring_here, timers_ringing_for, way_back
from workshop.bench.step_form import TickForm
from workshop.bench.step_page import StepPage, open_step
from workshop.tickets.photos import add_photo
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop, bench_only
from workshop.work.judging import evidence_for
from workshop.work.sent import Unreadable, read_id, read_queued, read_sent, read_taken_back
from workshop.work.ticking import WaitNotKept, answer_step, take_answer_back
from workshop.work.work import NotOnTheBench, bench_ticket, run_of

CONFLICT, REFUSED = 409, 422
BEFORE_ITS_TURN = 424  # an answer before it is not in yet, and it rests on that one


@require_GET
@anyone_in_the_shop
def run(request: ShopRequest, number: int, run_pk: int) -> HttpResponse:
    """The next step of a run, or the ticket when there is none: what is asked for after each answer."""
    page = open_step(request, number, run_pk, None)
    url = page.next_url()
    if not request.htmx:
        return redirect(url)
    if page.followed.next is None:
        return HttpResponseClientRedirect(url)
    response = _show(request, page, page.form())
    response["HX-Push-Url"] = url
    return response


@require_GET
@anyone_in_the_shop
def step(request: ShopRequest, number: int, run_pk: int, key: str) -> HttpResponse:
    response = _show_anew(request, number, run_pk, key)
    if request.htmx:
        response["HX-Push-Url"] = request.path
    return response


@require_POST
@bench_only
def answer(request: ShopRequest, number: int, run_pk: int, key: str) -> HttpResponse:
    """Store an answer and say so in a word; the next step is asked for by itself. A refusal shows the step again."""
    try:
        ticked = answer_step(
            shop=request.shop, number=number, run_pk=run_pk, step_key=key, by=request.user, sent=read_sent(request.POST)
        )
    except WaitsForOthers as early:
        return HttpResponse(str(early), status=BEFORE_ITS_TURN, content_type="text/plain")
    except (StaleRun, TickRefused, ReadingsRefused, NotOnTheBench, Unreadable) as refused:
        return _refuse(request, open_step(request, number, run_pk, key), refused)
    return _saved(request, ticked.version, reverse("bench:run", args=[number, run_pk]))


@require_POST
@bench_only
def take_back(request: ShopRequest, number: int, run_pk: int, key: str) -> HttpResponse:
    """Undo an answer; its step is then asked for by itself."""
    try:
        sent = read_taken_back(request.POST)
        version = take_answer_back(
            shop=request.shop, number=number, run_pk=run_pk, step_key=key, by=request.user, sent=sent
        )
    except WaitsForOthers as early:
        return HttpResponse(str(early), status=BEFORE_ITS_TURN, content_type="text/plain")
    except StaleRun as stale:
        return _show_anew(request, number, run_pk, key, CONFLICT, since=stale.since)
    except (TickRefused, NotOnTheBench) as refused:
        return _show_anew(request, number, run_pk, key, REFUSED, refused=str(refused))
    except Unreadable:
        return _show_anew(request, number, run_pk, key, REFUSED)
    return _saved(request, version, reverse("bench:step", args=[number, run_pk, key]))


@require_POST
@bench_only
def judge(request: ShopRequest, number: int, run_pk: int, key: str) -> HttpResponse:
    """What the readings typed so far would mean; nothing is saved."""
    page = open_step(request, number, run_pk, key)
    form = page.form(request.POST)
    evidence = evidence_for(page.ticket, page.values, page.run_state, page.state, form.typed())
    return render(request, "bench/_evidence.html", {"evidence": evidence, "judged": page.judged(form)})


@require_POST
@bench_only
def start(request: ShopRequest, number: int, run_pk: int, key: str) -> HttpResponse:
    """Start the step's timer, at the moment it was pressed if the tablet was cut off."""
    the_run = run_of(bench_ticket(request.shop, number), run_pk)
    client_id, started_at = _when_pressed(request, the_run, "client_id")
    try:
        timer = start_timer(run=the_run, step_key=key, by=request.user, client_id=client_id, started_at=started_at)
    except TickRefused as refused:
        raise Http404(str(refused)) from refused
    response = _timers_of(request, number, run_pk, key)
    ring_here(request, response, [timer])
    return response


@require_POST
@bench_only
def stop(request: ShopRequest, number: int, run_pk: int, key: str) -> HttpResponse:
    """Stop the timer that was started with this id."""
    the_run = run_of(bench_ticket(request.shop, number), run_pk)
    client_id, stopped_at = _when_pressed(request, the_run, "timer")
    stop_timer(run=the_run, client_id=client_id, stopped_at=stopped_at)
    return _timers_of(request, number, run_pk, key, way_back(request))


@require_GET
@anyone_in_the_shop
def timers(request: ShopRequest) -> HttpResponse:
    """The timers of who asks that ring on this tablet, for a page that is open already."""
    return render(request, "bench/_my_timers.html", {"my_timers": timers_ringing_for(request)})


@require_POST
@bench_only
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
    form_of_step = fresh.form()
    return _show(request, fresh, form_of_step, REFUSED, photo_error=error) if error else redirect(fresh.url())


def _when_pressed(request: ShopRequest, the_run: Run, name: str) -> tuple[uuid.UUID, dt.datetime]:
    """The id of a timer, one nobody has where none came, and when its button was pressed."""
    try:
        return read_id(request.POST.get(name, "")), read_queued(request.POST).happened_at(the_run.started_at)
    except Unreadable:
        return uuid.uuid4(), timezone.now()


def _timers_of(request: ShopRequest, number: int, run_pk: int, key: str, back: str = "") -> HttpResponse:
    page = open_step(request, number, run_pk, key)
    if request.htmx:
        return render(request, "bench/_step_timer.html", page.context() | {"new_id": uuid.uuid4()})
    return redirect(back or page.url())


def _saved(request: ShopRequest, version: int, following: str) -> HttpResponse:
    """That it is on the disk, and where to go on. Nothing is planned or drawn here."""
    if request.htmx:
        return JsonResponse({"saved": True, "version": version, "next": following})
    return redirect(following)


def _refuse(request: ShopRequest, page: StepPage, refused: Exception) -> HttpResponse:
    """The step again with what was typed, and why it was not taken."""
    form = page.form(request.POST)
    pressed = request.POST.get("outcome", "")
    if isinstance(refused, StaleRun):
        form.seen_now(refused.run.version)
        return _show(
            request, page, form, CONFLICT, since=refused.since, wanted=_words_of(page, pressed), outcome=pressed
        )
    if not form.is_valid():
        return _show(request, page, form, REFUSED)
    if isinstance(refused, ReadingsRefused):
        form.refuse_readings(refused.errors, may_be_as_found=refused.may_be_as_found, want_reasons=refused.want_reasons)
    elif isinstance(refused, ReadingsMissing):
        form.refuse_readings(dict.fromkeys(refused.labels, "This step cannot be answered without it. Enter it."))
    else:
        form.asks_about_wait = isinstance(refused, WaitNotKept)
        form.add_error(None, str(refused))
    return _show(request, page, form, REFUSED)


def _show_anew(
    request: ShopRequest, number: int, run_pk: int, key: str, status: int = 200, **extra: Any
) -> HttpResponse:
    page = open_step(request, number, run_pk, key)
    return _show(request, page, page.form(), status, **extra)


def _show(request: ShopRequest, page: StepPage, form: TickForm, status: int = 200, **extra: Any) -> HttpResponse:
    typed = form.typed() if form.is_bound else {}
    context = page.context() | {
        "form": form,
        "evidence": evidence_for(page.ticket, page.values, page.run_state, page.state, typed),
        "judged": page.judged(form),
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
    for button in page.found_buttons():
        if button.value == pressed:
            return f"Found: {button.label}"
    return next((button.label for button in page.buttons() if button.value == pressed), pressed)
