"""How often a sign-in may go wrong: of a name at an address, from an address, and of a name from anywhere.

A name at an address has few tries. An address with many names, and a name tried from many addresses, have more
between them; those two do not hold up a name where it signed in lately, so that nobody can shut the shop out of its
own rooms by trying wrong names or the owner's name elsewhere. It has its few tries there, as ever.
Every count is a row of the database, so that all processes see the same.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from axes.handlers.database import AxesDatabaseHandler
from axes.helpers import get_client_username, get_cool_off
from axes.models import AccessAttempt, AccessLog
from django.conf import settings
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from workshop.staff.models import User

KNOWN_FOR = dt.timedelta(days=90)
"""How long a name is known at an address after it signed in there."""


@dataclass(frozen=True)
class Wait:
    """What was tried too often (`here`, `address` or `name`), how often is too often, and when it may go on."""

    what: str
    limit: int
    until: dt.datetime

    @property
    def minutes(self) -> int:
        return max(1, -int((timezone.now() - self.until).total_seconds() // 60))


class SignInHandler(AxesDatabaseHandler):  # type: ignore[misc]  # the package has no types
    """The package counts a name at an address; this adds the two wider counts, and forgets old sign-ins."""

    def is_locked(self, request: HttpRequest, credentials: dict[str, object] | None = None) -> bool:
        return wait_of(request, credentials) is not None

    def user_logged_in(self, sender: object, request: HttpRequest, user: User, **kwargs: object) -> None:
        if getattr(request, "by_code", False):
            return  # a short code forgives no wrong passwords, or who knows it could guess those without end
        super().user_logged_in(sender, request, user, **kwargs)
        AccessLog.objects.filter(username=user.get_username(), attempt_time__lt=timezone.now() - KNOWN_FOR).delete()


def wait_of(request: HttpRequest, credentials: dict[str, object] | None = None) -> Wait | None:
    """Why this name has to wait at this address, or None where it may try."""
    name, address = get_client_username(request, credentials), request.axes_ip_address  # type: ignore[attr-defined]
    recent = AccessAttempt.objects.filter(attempt_time__gt=timezone.now() - get_cool_off(request))
    wait = _wait("here", settings.AXES_FAILURE_LIMIT, recent.filter(username=name, ip_address=address))
    wait = wait or _wait("address", settings.SIGN_IN_FAILURES_OF_ADDRESS, recent.filter(ip_address=address))
    wait = wait or _wait("name", settings.SIGN_IN_FAILURES_OF_NAME, recent.filter(username=name))
    if wait is not None and wait.what != "here" and _signed_in_lately(name, address):
        return None
    return wait


def locked_out(
    request: HttpRequest, response: HttpResponse | None, credentials: dict[str, object] | None
) -> HttpResponse:
    """The page that says who has to wait, and for how long."""
    return render(request, "staff/locked_out.html", {"wait": wait_of(request, credentials)}, status=429)


def _wait(what: str, limit: int, attempts: QuerySet[AccessAttempt]) -> Wait | None:
    """The wait ends as soon as what is counted has fallen below the limit: rows leave the count whole, oldest first."""
    counted = 0
    for at, failures in attempts.order_by("-attempt_time").values_list("attempt_time", "failures_since_start"):
        counted += failures
        if counted >= limit:
            return Wait(what, limit, at + get_cool_off())
    return None


def _signed_in_lately(name: str | None, address: str) -> bool:
    since = timezone.now() - KNOWN_FOR
    return bool(AccessLog.objects.filter(username=name, ip_address=address, attempt_time__gte=since).exists())
