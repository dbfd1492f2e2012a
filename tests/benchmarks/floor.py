"""What everything is measured against: the least that Django can do for a page, a write and a PDF.

The floor of a tick is `one_row_written` asked by somebody who is signed in, with the same form: the shop's whole
middleware, the CSRF check, session and user read, one row inserted and committed (SQLite in a file, synchronous FULL),
one word sent back. The tick is held against that, because no write of a signed-in person can do less.
"""

from __future__ import annotations

import functools
import statistics
import time
from collections.abc import Callable
from typing import Any
from urllib.parse import urlencode

from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY
from django.core.handlers.wsgi import WSGIHandler
from django.core.signals import request_started
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.template import engines
from django.test import RequestFactory, override_settings
from django.urls import path
from django.utils import timezone

from workshop.staff.models import User
from workshop.staff.session_store import SessionStore
from workshop.tickets.models import Ticket, TicketEvent

_TOKEN = "t" * 32
_ROWS = """<table>{% for ticket in tickets %}<tr>
<td><a href="/counter/tickets/{{ ticket.number }}/">{{ ticket.number }}</a></td><td>{{ ticket.complaint_words }}</td>
<td>{{ ticket.state }}</td>
<td>{{ ticket.promised_on|date:"j M Y" }}</td><td>{{ ticket.booked_at|date:"j M Y, H:i" }}</td>
</tr>{% endfor %}</table>"""


@functools.cache
def _template() -> Any:
    return engines["django"].from_string(_ROWS)


def fifty_rows(request: HttpRequest) -> HttpResponse:
    """One indexed query and fifty rendered rows; no session, no user, no frame."""
    tickets = Ticket.objects.order_by("-pk")[:50]
    return HttpResponse(_template().render({"tickets": tickets}))


def one_row_written(request: HttpRequest) -> HttpResponse:
    """One row written and committed, and one word sent back."""
    TicketEvent.objects.create(ticket_id=int(request.GET["ticket"]), at=timezone.now(), text="written")
    return HttpResponse("written")


class Browser:
    """A signed-in browser that goes straight to Django's handler: without the copies that the test client keeps."""

    def __init__(self, user: User | None, *, bare: bool = False, at_floor: bool = False) -> None:
        """`bare` has no middleware and knows only the views of this module; `at_floor` knows them too."""
        self.cookies = f"csrftoken={_TOKEN}" + ("" if user is None else f"; sessionid={_session_of(user)}")
        self.requests = RequestFactory()
        self.urlconf = __name__ if bare or at_floor else None
        with override_settings(**({"MIDDLEWARE": []} if bare else {})):
            self.handler = WSGIHandler()

    def get(self, path: str, *, htmx: bool = False) -> HttpResponseBase:
        return self._send(self.requests.get(path, headers={"HX-Request": "true"} if htmx else {}))

    def post(self, path: str, sent: dict[str, Any], *, htmx: bool = False) -> HttpResponseBase:
        """As browsers send a form without files, with its token."""
        form = urlencode({"csrfmiddlewaretoken": _TOKEN} | sent)
        headers = {"HX-Request": "true"} if htmx else {}
        kind = "application/x-www-form-urlencoded"
        return self._send(self.requests.post(path, form, content_type=kind, headers=headers))

    def _send(self, request: HttpRequest) -> HttpResponseBase:
        environ = request.environ | {"HTTP_COOKIE": self.cookies}  # type: ignore[attr-defined]
        wsgi_request = self.handler.request_class(environ)
        if self.urlconf is not None:
            wsgi_request.urlconf = self.urlconf
        request_started.send(sender=WSGIHandler, environ=environ)
        response = self.handler.get_response(wsgi_request)
        response.close()
        if response.status_code >= 400:
            raise AssertionError(f"{request.path}: {response.status_code}")
        return response


urlpatterns = [path("fifty/", fifty_rows), path("write/", one_row_written)]


def _session_of(user: User) -> str:
    session = SessionStore()
    session[SESSION_KEY] = str(user.pk)
    session[BACKEND_SESSION_KEY] = "workshop.staff.backend.StaffBackend"
    session[HASH_SESSION_KEY] = user.get_session_auth_hash()
    session.save()
    return str(session.session_key)


def ratio(measured: Callable[[], object], floor: Callable[[], object], *, runs: int) -> float:
    """Median of how often `floor` goes into `measured`, each pair one after the other: the machine has its moods."""

    def seconds(action: Callable[[], object]) -> float:
        start = time.perf_counter()
        action()
        return time.perf_counter() - start

    measured(), floor()
    return statistics.median(seconds(measured) / seconds(floor) for _ in range(runs))
