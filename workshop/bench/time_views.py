"""The bench time of a ticket by step, and putting it right by hand."""

from __future__ import annotations

import uuid

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_POST

from diagnosis.models import MinutesCorrection
from diagnosis.runs import TickRefused
from diagnosis.runs_minutes import StaleMinutes
from workshop.bench.bench_times import put_minutes_right, ticket_time
from workshop.bench.board import may_work
from workshop.bench.time_forms import MinutesForm
from workshop.tickets.models import Ticket
from workshop.web.durations import duration_words
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop, bench_only
from workshop.work.work import bench_ticket, run_of, run_states

CONFLICT, REFUSED = 409, 422


@require_GET
@anyone_in_the_shop
def times(request: ShopRequest, number: int) -> HttpResponse:
    return _show(request, bench_ticket(request.shop, number))


@require_POST
@bench_only
def correct(request: ShopRequest, number: int, run_pk: int, key: str) -> HttpResponse:
    ticket = bench_ticket(request.shop, number)
    run, form = run_of(ticket, run_pk), MinutesForm(request.POST)
    if not form.is_valid():
        return _show(request, ticket, refused=form, at=(run_pk, key), status=REFUSED)
    try:
        made = put_minutes_right(
            ticket=ticket,
            run=run,
            step_key=key,
            minutes=form.cleaned_data["minutes"],
            by=request.user,
            client_id=form.cleaned_data["client_id"],
            seen=form.cleaned_data["seen"],
        )
    except StaleMinutes as stale:
        form.add_error("minutes", _what_counts_now(stale.latest))
        return _show(request, ticket, refused=form, at=(run_pk, key), status=CONFLICT)
    except TickRefused as refused:
        raise Http404(str(refused)) from refused
    messages.success(request, f"“{made.step.title}” now counts {duration_words(made.minutes)}.")
    return redirect("bench:times", number)


def _what_counts_now(latest: MinutesCorrection) -> str:
    by = f"{latest.by} put" if latest.by else "Somebody put"
    return f"Meanwhile {by} {latest.minutes:g} min here, and that counts. Correct again to count yours."


def _show(
    request: ShopRequest,
    ticket: Ticket,
    *,
    refused: MinutesForm | None = None,
    at: tuple[int, str] | None = None,
    status: int = 200,
) -> HttpResponse:
    states = run_states(ticket)
    time = ticket_time(states)
    rows = [
        {
            "row": row,
            "form": refused if at == (row.run_state.run.pk, row.state.key) else None,
            "new_id": uuid.uuid4(),
        }
        for row in time.rows
    ]
    context = {
        "ticket": ticket,
        "time": time,
        "rows": rows,
        "is_several": len(states) > 1,
        "may_work": may_work(request.user),
    }
    return render(request, "bench/times.html", context, status=status)
