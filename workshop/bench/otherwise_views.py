"""“It is otherwise”: the conditions that the mechanic can say the unit is in, and what was said."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import dataclass

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_POST

from diagnosis.models import ToldOtherwise
from diagnosis.runs_refusals import TickRefused
from diagnosis.runs_state import RunState
from diagnosis.runs_told import ToldMeanwhile, condition_in_words, conditions_for, told_words
from diagnosis.told import LONGEST_NOTE
from diagnosis.unit_parts import PARTS, UNKNOWN
from diagnosis.unit_state import UnitState
from workshop.bench.board import may_work
from workshop.tickets.models import Ticket
from workshop.web.converters import key_from
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop, bench_only
from workshop.work.otherwise import take_back_what_was_told, tell_of_unit
from workshop.work.sent import Unreadable, read_id
from workshop.work.work import NotOnTheBench, bench_ticket, run_of, run_states

CONFLICT, REFUSED = 409, 422
NOBODY_KNOWS = "Nobody knows any more"


@dataclass(frozen=True)
class PartToTell:
    """A part, how it is now, and what can be said of it: the value that is sent, and its words."""

    label: str
    now: str
    choices: Sequence[tuple[str, str]]


@dataclass(frozen=True)
class ToldShown:
    """Something that was said, in words; `may_take_back` as long as it stands."""

    row: ToldOtherwise
    words: str
    may_take_back: bool


@require_GET
@anyone_in_the_shop
def otherwise(request: ShopRequest, number: int, run_pk: int) -> HttpResponse:
    return _show(request, number, run_pk)


@require_POST
@bench_only
def tell(request: ShopRequest, number: int, run_pk: int) -> HttpResponse:
    """Keep what was said of the unit. What changed meanwhile is told first, with what was typed still there."""
    ticket = bench_ticket(request.shop, number)
    version, said = key_from(request.POST.get("version", "")), key_from(request.POST.get("said", ""))
    try:
        if version is None or said is None:
            raise Unreadable
        tell_of_unit(
            ticket=ticket, run=run_of(ticket, run_pk), condition=request.POST.get("condition", ""), by=request.user,
            client_id=read_id(request.POST.get("client_id", "")), seen_version=version, seen_said=said,
            note=request.POST.get("note", ""),
        )  # fmt: skip
    except ToldMeanwhile as stale:
        return _show(request, number, run_pk, str(stale), CONFLICT)
    except (TickRefused, NotOnTheBench, Unreadable) as refused:
        return _show(request, number, run_pk, str(refused), REFUSED)
    messages.success(request, "It is kept, with your name and the time. What is suggested goes by it from now on.")
    return redirect("bench:run", number, run_pk)


@require_POST
@bench_only
def untell(request: ShopRequest, number: int, run_pk: int, pk: int) -> HttpResponse:
    """It was a mistake."""
    ticket = bench_ticket(request.shop, number)
    run = run_of(ticket, run_pk)
    told = get_object_or_404(ToldOtherwise, job=run.job, pk=pk, takes_back=None)
    try:
        client_id = read_id(request.POST.get("client_id", ""))
        take_back_what_was_told(ticket=ticket, run=run, told=told, by=request.user, client_id=client_id)
    except (NotOnTheBench, Unreadable) as refused:
        return _show(request, number, run_pk, str(refused), REFUSED)
    messages.success(request, "Taken back. Until a step says so, nobody knows how it is.")
    return redirect("bench:otherwise", number, run_pk)


def _show(request: ShopRequest, number: int, run_pk: int, refused: str = "", status: int = 200) -> HttpResponse:
    ticket = bench_ticket(request.shop, number)
    states = run_states(ticket)
    state = next((one for one in states if one.run.pk == run_pk), None)
    if state is None:
        raise Http404("This ticket has no such run.")
    context = {
        "ticket": ticket,
        "run_state": state,
        "parts": _parts(states, state.unit),
        "told": _told(state),
        "refused": refused,
        "note": request.POST.get("note", ""),
        "longest_note": LONGEST_NOTE,
        "new_id": uuid.uuid4(),
        "may_work": may_work(request.user) and ticket.state == Ticket.State.ON_THE_BENCH,
    }
    return render(request, "bench/otherwise.html", context, status=status)


def _parts(states: Sequence[RunState], unit: UnitState) -> list[PartToTell]:
    found = []
    for part, values in conditions_for([state.run for state in states], unit).items():
        choices = [
            (f"{part}={value}", NOBODY_KNOWS if value == UNKNOWN else _large(told_words(part, value)))
            for value in values
        ]
        label = "Air chambers" if PARTS[part].chamber else PARTS[part].label
        found.append(PartToTell(label, _large(told_words(part, unit.conditions[part])), choices))
    return found


def _told(state: RunState) -> list[ToldShown]:
    rows = ToldOtherwise.objects.filter(job=state.run.job).select_related("by", "taken_back_by").order_by("-pk")
    return [
        ToldShown(row, condition_in_words(row), row.takes_back_id is None and not hasattr(row, "taken_back_by"))
        for row in (rows if state.run.said else ())
    ]


def _large(words: str) -> str:
    return words[:1].upper() + words[1:]
