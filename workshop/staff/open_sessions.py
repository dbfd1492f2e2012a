"""The sessions that somebody has open: noted while they work, listed, and ended."""

from __future__ import annotations

import datetime as dt
import hashlib
from contextlib import suppress
from dataclasses import dataclass

from django.db import DatabaseError
from django.db.models import Q, QuerySet
from django.http import HttpRequest
from django.utils import timezone

from workshop.staff.address import client_address
from workshop.staff.browser_words import UNKNOWN
from workshop.staff.models import User
from workshop.staff.session_models import OpenSession
from workshop.staff.session_store import ends_at, idle_time

NOTED_EVERY = dt.timedelta(minutes=1)
SWEPT_AT_ONCE = 200


@dataclass(frozen=True)
class SessionShown:
    """A session as a page lists it. `mark` names it there, for its key opens it."""

    mark: str
    device: str
    began_at: dt.datetime
    last_seen_at: dt.datetime
    address: str
    is_this: bool


def note_seen(request: HttpRequest) -> None:
    """That somebody does something: the session ends later. Written once a minute at most, so that reading stays cheap.

    A machine that cannot write just now (a full disk) still shows its pages.
    """
    row = getattr(request.session, "row", None)
    if not isinstance(row, OpenSession) or row.user_id is None:
        return
    now = timezone.now()
    grain = min(NOTED_EVERY, idle_time(on_shared_device=row.device_id is not None) / 4)
    if abs(now - row.last_seen_at) < grain:
        return
    with suppress(DatabaseError):
        OpenSession.objects.filter(pk=row.pk).update(
            last_seen_at=now, expire_date=ends_at(row, now), address=client_address(request)[:64]
        )


def sessions_of(user: User, *, this: str | None = None) -> list[SessionShown]:
    """The open sessions of somebody, the last seen first; `this` is the key of the one that asks. One query."""
    rows = _open(user).select_related("device").order_by("-last_seen_at", "pk")
    return [
        SessionShown(
            mark=_mark(row.pk), device=str(row.device or row.browser or UNKNOWN), began_at=row.began_at,
            last_seen_at=row.last_seen_at, address=row.address, is_this=row.pk == this,
        )
        for row in rows
    ]  # fmt: skip


def end_sessions(user: User, *, but: str | None = None) -> int:
    """End all sessions of somebody, but the one with this key. Returns how many there were."""
    ending = OpenSession.objects.filter(user=user)
    return (ending.exclude(pk=but) if but else ending).delete()[0]


def sweep() -> None:
    """Take rows away that ran out, some at a time."""
    old = OpenSession.objects.filter(expire_date__lt=timezone.now()).order_by("pk").values_list("pk", flat=True)
    OpenSession.objects.filter(pk__in=list(old[:SWEPT_AT_ONCE])).delete()


def end_session(user: User, mark: str) -> bool:
    """End one session of somebody. False where it ended before."""
    keys = [key for key in _open(user).values_list("pk", flat=True) if _mark(key) == mark]
    return bool(OpenSession.objects.filter(user=user, pk__in=keys).delete()[0])


def _open(user: User) -> QuerySet[OpenSession]:
    """Neither run out nor on a device that was ended, on which nobody is signed in whatever its rows say."""
    on_device = Q(device__isnull=True) | Q(device__ended_at__isnull=True)
    return OpenSession.objects.filter(on_device, user=user, expire_date__gt=timezone.now())


def _mark(key: str) -> str:
    return hashlib.sha256(f"a session in a list {key}".encode()).hexdigest()[:32]
