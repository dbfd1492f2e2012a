"""How often a sign-in may go wrong: of a name at an address, from an address, and of a name from anywhere.

A name at an address has few tries. An address with many names, and a name tried from many addresses, have more
between them; those two do not hold up a name where it signed in lately, so that nobody can shut the shop out of its
own rooms by trying wrong names or the owner's name elsewhere. It has its few tries there, as ever. A wrong one of them
is answered like that of a name which has to wait, and takes as long, so that nobody learns which names are known there.
Every count is a row of the database, so that all processes see the same.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from axes.handlers.database import AxesDatabaseHandler
from axes.helpers import get_client_username, get_cool_off
from axes.models import AccessAttempt, AccessLog
from django.conf import settings
from django.db.models import F, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from workshop.staff.models import User
from workshop.staff.security_log import Did, WhereFrom, note

KNOWN_FOR = dt.timedelta(days=90)
"""How long a name is known at an address after it signed in there."""
_WHILE_WAITING = "\nwhile waiting"  # in place of the browser's name, which has no line end
_LONGEST_PASSWORD = 4096


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

    def user_login_failed(
        self, sender: object, credentials: dict[str, object], request: HttpRequest | None = None, **kwargs: object
    ) -> None:
        """Count it; and the shop's log says once that a name of its people has to wait now."""
        waited = request is not None and wait_of(request, credentials) is not None
        self._count(sender, credentials, request, **kwargs)
        if request is None or waited or wait_of(request, credentials) is None:
            return
        name = get_client_username(request, credentials)
        user = User.objects.select_related("shop").filter(username=name, shop__isnull=False).first()
        if user is not None and user.shop is not None:
            note(shop=user.shop, did=Did.HAD_TO_WAIT, by=user, place=WhereFrom.of(request))

    def _count(
        self, sender: object, credentials: dict[str, object], request: HttpRequest | None, **kwargs: object
    ) -> None:
        wait = None
        if request is not None and not getattr(request, "axes_locked_out", False) and not _is_signed_in(request):
            wait = wider_wait(*_name_and_address(request, credentials))
        if request is None or wait is None:
            super().user_login_failed(sender, credentials, request, **kwargs)
            return
        self.clean_expired_user_attempts(request, credentials)
        _count_while_waiting(request, credentials)
        request.axes_locked_out, request.axes_credentials = True, credentials  # type: ignore[attr-defined]
        request.waits = wait  # type: ignore[attr-defined]  # its password was checked already

    def user_logged_in(self, sender: object, request: HttpRequest, user: User, **kwargs: object) -> None:
        if getattr(request, "by_code", False):
            return  # a short code forgives no wrong passwords, or who knows it could guess those without end
        super().user_logged_in(sender, request, user, **kwargs)
        AccessLog.objects.filter(username=user.get_username(), attempt_time__lt=timezone.now() - KNOWN_FOR).delete()


def wait_of(request: HttpRequest, credentials: dict[str, object] | None = None) -> Wait | None:
    """Why this name has to wait at this address, or None where it may try."""
    name, address = _name_and_address(request, credentials)
    here = _wait("here", settings.AXES_FAILURE_LIMIT, _recent().filter(username=name, ip_address=address))
    wider = wider_wait(name, address)
    if here is None and wider is not None and _signed_in_lately(name, address):
        return None
    return wider or here


def wider_wait(name: str | None, address: str) -> Wait | None:
    """Why whoever did not sign in here lately has to wait. Tries while waiting do not count: they would tell by the
    minutes who may try all the same."""
    counted = _recent().exclude(user_agent=_WHILE_WAITING)
    wait = _wait("address", settings.SIGN_IN_FAILURES_OF_ADDRESS, counted.filter(ip_address=address))
    return wait or _wait("name", settings.SIGN_IN_FAILURES_OF_NAME, counted.filter(username=name))


def locked_out(
    request: HttpRequest, response: HttpResponse | None, credentials: dict[str, object] | None
) -> HttpResponse:
    """The page that says who has to wait, and for how long."""
    wait = getattr(request, "waits", None)
    if wait is None:
        wait = wait_of(request, credentials)
        if wait is not None and wait.what != "here":
            _work_as_for_a_password(request)
    return render(request, "staff/locked_out.html", {"wait": wait}, status=429)


def _work_as_for_a_password(request: HttpRequest) -> None:
    """As Django does for a name that nobody has: the time tells nothing of who is known."""
    User().set_password(request.POST.get("password", "")[:_LONGEST_PASSWORD])


def _name_and_address(request: HttpRequest, credentials: dict[str, object] | None) -> tuple[str | None, str]:
    return get_client_username(request, credentials), request.axes_ip_address  # type: ignore[attr-defined]


def _is_signed_in(request: HttpRequest) -> bool:
    """Who gives the password once more is known already."""
    return bool(getattr(request, "user", None) and request.user.is_authenticated)


def _recent() -> QuerySet[AccessAttempt]:
    recent: QuerySet[AccessAttempt] = AccessAttempt.objects.filter(attempt_time__gt=timezone.now() - get_cool_off())
    return recent


def _count_while_waiting(request: HttpRequest, credentials: dict[str, object]) -> None:
    """A wrong try of a name that may try while others wait here: one of its few."""
    name, address = _name_and_address(request, credentials)
    nothing = dict.fromkeys(("get_data", "post_data", "http_accept", "path_info"), "")
    begun = {"attempt_time": timezone.now(), "failures_since_start": 1, **nothing}
    row, is_new = AccessAttempt.objects.get_or_create(
        username=name, ip_address=address, user_agent=_WHILE_WAITING, defaults=begun
    )
    if not is_new:
        counted = F("failures_since_start") + 1
        AccessAttempt.objects.filter(pk=row.pk).update(failures_since_start=counted, attempt_time=timezone.now())


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
