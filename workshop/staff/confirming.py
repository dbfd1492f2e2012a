"""Whether somebody showed a moment ago that it is still them: what is dearest asks for the password anew otherwise."""

from __future__ import annotations

import datetime as dt

from django.conf import settings
from django.http import HttpRequest
from django.utils import timezone

from workshop.staff.session_models import OpenSession
from workshop.staff.session_store import BY_CODE

_AT = "confirmed_at"


def confirm(request: HttpRequest) -> None:
    """Note that the password, and the second factor where there is one, was right just now."""
    request.session[_AT] = timezone.now().timestamp()


def confirmed_lately(request: HttpRequest) -> bool:
    """Whether that, or a sign-in by password, was within the last minutes. No query: the session's row is read."""
    if request.session.get(BY_CODE):
        return False
    row = getattr(request.session, "row", None)
    began = row.began_at.timestamp() if isinstance(row, OpenSession) else 0.0
    age = timezone.now().timestamp() - max(began, float(request.session.get(_AT, 0.0)))
    # From ahead of now, when the clock was set back, nothing follows.
    return 0 <= age < dt.timedelta(minutes=settings.CONFIRMED_FOR_MINUTES).total_seconds()
