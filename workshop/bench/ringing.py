"""Whose timers ring on this tablet: those that were started on it, on every page that who started them opens.

A cookie holds their ids, so that a page costs one look by a unique key where there are any, and none where not.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from typing import Any

from django.conf import settings
from django.db.models import OuterRef, Subquery
from django.http import HttpRequest, HttpResponse
from django.utils.http import url_has_allowed_host_and_scheme

from diagnosis.models import StepTimer
from workshop.bench.timers import TimerShown
from workshop.staff.cookie_names import cookie_named
from workshop.staff.models import User
from workshop.tickets.models import TicketRun

COOKIE = "timers"
MOST = 20
KEPT_S = 7 * 24 * 3600


def my_timers(request: HttpRequest) -> dict[str, Any]:
    """For every whole page: the running timers of who is signed in, and where to come back to after stopping one."""
    if getattr(request, "htmx", False) or not _ids_in(request):
        return {}
    return {
        "my_timers": timers_ringing_for(request),
        "back": request.get_full_path() if request.method == "GET" else "",
    }


def timers_ringing_for(request: HttpRequest) -> list[TimerShown]:
    """Timers that who is signed in started on this tablet and that run still, the first to end in front; one query."""
    user, ids = getattr(request, "user", None), _ids_in(request)
    if not ids or not isinstance(user, User) or user.shop_id is None:
        return []
    number = TicketRun.objects.filter(run=OuterRef("run"), ticket__shop=user.shop_id).values("ticket__number")
    running = StepTimer.objects.filter(client_id__in=ids, by=user, stopped_at__isnull=True).select_related("step")
    rows = running.annotate(ticket_number=Subquery(number[:1])).exclude(ticket_number=None)
    return sorted((TimerShown(timer, timer.ticket_number) for timer in rows), key=lambda entry: entry.ends_at)


def ring_here(request: HttpRequest, response: HttpResponse, timers: Iterable[StepTimer]) -> None:
    """Let these timers ring on this tablet, those among them that its mechanic started."""
    known = _ids_in(request)
    new = [timer.client_id for timer in timers if timer.by_id == request.user.pk and timer.client_id not in known]
    if new:
        kept = " ".join(str(client_id) for client_id in [*known, *new][-MOST:])
        response.set_cookie(
            cookie_named(COOKIE),
            kept,
            max_age=KEPT_S,
            httponly=True,
            samesite="Lax",
            secure=settings.SESSION_COOKIE_SECURE,
        )


def way_back(request: HttpRequest) -> str:
    """The page on which a timer was stopped, if it said so and is one of ours; else “”."""
    back = request.POST.get("back", "")
    return back if back.startswith("/") and url_has_allowed_host_and_scheme(back, allowed_hosts=None) else ""


def _ids_in(request: HttpRequest) -> list[uuid.UUID]:
    found = []
    for word in request.COOKIES.get(cookie_named(COOKIE), "").split()[-MOST:]:
        try:
            found.append(uuid.UUID(word))
        except ValueError:
            continue
    return found
