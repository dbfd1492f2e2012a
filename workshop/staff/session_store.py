"""Where sessions are kept: Django's table of them, with the columns by which a person knows one from another.

It takes no statement more than Django's own: the row that every request reads says whose it is and until when.
"""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.conf import settings
from django.contrib.auth import SESSION_KEY
from django.contrib.sessions.backends.base import SessionBase, UpdateError
from django.contrib.sessions.backends.db import SessionStore as DatabaseStore
from django.db import InterfaceError, OperationalError
from django.utils import timezone

from workshop.staff.session_models import OpenSession

BY_CODE, DEVICE, FROM = "by_code", "device", "signed_in_from"
"""Where a session says that it began with a short code, on which device it is, and where it began."""


class SessionStore(DatabaseStore):
    """A session of the database; `row` is what was read of it, None until then."""

    row: OpenSession | None = None

    @classmethod
    def get_model_class(cls) -> type[OpenSession]:
        return OpenSession

    def _get_session_from_db(self) -> OpenSession | None:
        self.row = super()._get_session_from_db()  # type: ignore[misc]  # the stubs leave it out
        return self.row

    def save(self, must_create: bool = False) -> None:
        """As Django does; but a database that is away or full is told as that, not as a session that ended."""
        try:
            super().save(must_create)
        except UpdateError as ended:
            if isinstance(ended.__context__, OperationalError | InterfaceError):
                raise ended.__context__  # noqa: B904  with its own cause, by which the fault is known
            raise

    def create_model_instance(self, data: dict[str, Any]) -> OpenSession:
        made: OpenSession = super().create_model_instance(data)  # type: ignore[assignment]
        now = timezone.now()
        person, was = data.get(SESSION_KEY), self.row
        made.user_id = int(person) if person else None
        made.device_id = data.get(DEVICE)
        place = data.get(FROM, {})
        began = place.get("at")
        made.began_at = dt.datetime.fromtimestamp(began, dt.UTC) if began else now
        made.last_seen_at = now
        made.address, made.browser = place.get("address", ""), place.get("browser", "")
        if was is not None and was.user_id == made.user_id:  # it goes on
            made.began_at, made.address = was.began_at, was.address
        if made.user_id is not None:
            made.expire_date = ends_at(made, now)
        return made


def begins_now(session: SessionBase) -> None:
    """Whatever the row was before somebody signed in, nothing of it goes on."""
    if isinstance(session, SessionStore):
        session.row = None


def idle_time(*, on_shared_device: bool) -> dt.timedelta:
    """How long somebody may do nothing and stay signed in."""
    minutes = settings.IDLE_MINUTES_SHARED if on_shared_device else settings.IDLE_MINUTES
    return dt.timedelta(minutes=minutes)


def ends_at(session: OpenSession, now: dt.datetime) -> dt.datetime:
    """When a session ends if nothing more comes of it now, and at the latest."""
    longest = session.began_at + dt.timedelta(seconds=settings.SESSION_COOKIE_AGE)
    return min(longest, now + idle_time(on_shared_device=session.device_id is not None))
