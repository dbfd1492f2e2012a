"""What other tablets tick in a run that is open on this one, and what is said there of its unit."""

from __future__ import annotations

import uuid
from dataclasses import dataclass

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from diagnosis.models import Run, Step, Tick
from diagnosis.runs_told import bears_on, told_in_words, told_since
from workshop.bench.step_page import open_step, ticks_in
from workshop.tickets.models import TicketRun
from workshop.web.converters import key_from
from workshop.web.middleware import asked_by_itself
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop

MOST_TOLD = 5


@dataclass(frozen=True)
class Said:
    """Somebody's word on the unit, with who and when, and whether an answer to the open step rests on it."""

    words: str
    is_of_this_step: bool


@asked_by_itself
@require_GET
@anyone_in_the_shop
def news(request: ShopRequest, number: int, run_pk: int) -> HttpResponse:
    """The list of steps and the unit anew, with what others ticked since `version`, ticked in the runs beside it since
    there were `beside` ticks in them, and said since `said`; 204 where there is nothing, in one query.

    A tablet that names no `said` or `beside` is told of this run's ticks alone.
    """
    runs = TicketRun.objects.filter(ticket__shop=request.shop, ticket__number=number)
    stands = {pk: (version, said) for pk, version, said in runs.values_list("run", "run__version", "run__said")}
    if run_pk not in stands:
        raise Http404("This ticket has no such run.")
    version, said = stands.pop(run_pk)
    beside = ticks_in(version for version, _ in stands.values())
    seen = key_from(request.GET.get("version", "")) or 0
    seen_said, seen_beside = _number(request, "said", said), _number(request, "beside", beside)
    if version <= seen and said <= seen_said and beside <= seen_beside:
        return HttpResponse(status=204)
    page = open_step(request, number, run_pk, request.GET.get("step") or None)
    rows = Tick.objects.select_related("step", "by", "run__checklist").order_by("pk")
    ticks = list(rows.filter(run=run_pk)[max(seen - 1, 0) :])
    if beside > seen_beside:
        last = rows.filter(run__in=stands).reverse()[: beside - seen_beside]
        ticks += [tick for tick in last if tick.counted_from_id is None]
    told = {
        "ticks": [tick for tick in sorted(ticks, key=lambda tick: tick.pk) if tick.by_id != request.user.pk][
            -MOST_TOLD:
        ],
        "said": _said_by_others(page.run_state.run, page.state.step, request.user.pk, seen_said),
    }
    return render(request, "bench/_news.html", page.context() | told | {"new_id": uuid.uuid4()})


def _number(request: ShopRequest, name: str, otherwise: int) -> int:
    number = key_from(request.GET.get(name, ""))
    return otherwise if number is None else number


def _said_by_others(run: Run, step: Step, user_pk: int, seen_said: int) -> list[Said]:
    """Asks nothing where nothing was said."""
    told = told_since(run, seen_said) if run.said > seen_said else []
    return [Said(told_in_words(one), bears_on(one, step)) for one in told if one.by_id != user_pk][-MOST_TOLD:]
