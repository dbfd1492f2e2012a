"""What everything is measured against: the least that Django can do for a page, a write and a PDF."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.template import engines
from django.utils import timezone

from workshop.tickets.models import Ticket, TicketEvent

_ROWS = """<table>{% for ticket in tickets %}<tr>
<td><a href="/counter/tickets/{{ ticket.number }}/">{{ ticket.number }}</a></td><td>{{ ticket.complaint_words }}</td>
<td>{{ ticket.state }}</td>
<td>{{ ticket.promised_on|date:"j M Y" }}</td><td>{{ ticket.booked_at|date:"j M Y, H:i" }}</td>
</tr>{% endfor %}</table>"""


def fifty_rows(request: HttpRequest) -> HttpResponse:
    """One indexed query and fifty rendered rows; no session, no user, no frame."""
    tickets = Ticket.objects.order_by("-number")[:50]
    return HttpResponse(engines["django"].from_string(_ROWS).render({"tickets": tickets}, request))


def one_row_written(request: HttpRequest) -> HttpResponse:
    """One row written and committed, and one word sent back."""
    TicketEvent.objects.create(ticket_id=int(request.GET["ticket"]), at=timezone.now(), text="written")
    return HttpResponse("written")


def ratio(measured: Callable[[], object], floor: Callable[[], object], *, runs: int) -> float:
    """Median of `measured` over median of `floor`, taken in turn so that the machine's moods fall on both."""
    measured(), floor()
    times: dict[str, list[float]] = {"measured": [], "floor": []}
    for _ in range(runs):
        for name, action in (("measured", measured), ("floor", floor)):
            start = time.perf_counter()
            action()
            times[name].append(time.perf_counter() - start)
    return statistics.median(times["measured"]) / statistics.median(times["floor"])
