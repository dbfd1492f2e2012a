"""Whether the shop answers, for a proxy or a watch. It says yes or no, and nothing of the shop.

`/live` says that this process answers: where it does not, start it anew. `/health` says that the database does, too:
where it does not, send nobody here until it does; starting this anew would not mend that. `/ready` says that this
machine can take work: its code finds the tables it needs, and files can be written. A machine among several is sent
people by that, for on a new machine, or one whose shared folder went away, the database alone is well.
"""

from __future__ import annotations

from time import monotonic

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.db import DatabaseError, InterfaceError, OperationalError, connection, connections
from django.http import HttpRequest, HttpResponse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from workshop.running.opened_file import file_went_away
from workshop.running.preflight.folders import os_error_in_words
from workshop.running.seen_serving import kept_out
from workshop.running.tables import open_migrations
from workshop.web.no_error import as_no_error
from workshop.web.storage import file_store

NEW_LOOK_AFTER_S = 5.0  # at files and migrations: whoever asks all the time keeps the disk no busier
_looked: dict[str, tuple[float, str]] = {}


@never_cache
@login_not_required
@require_safe
def live(request: HttpRequest) -> HttpResponse:
    """200 whatever the database does."""
    return HttpResponse("live\n", content_type="text/plain")


@never_cache
@login_not_required
@require_safe
def health(request: HttpRequest) -> HttpResponse:
    """200 where the database answers and is the one that was opened, 503 where not."""
    if _database_away():
        return _not_ready("not ready\n")
    return HttpResponse("ready\n", content_type="text/plain")


@never_cache
@login_not_required
@require_safe
def ready(request: HttpRequest) -> HttpResponse:
    """200 where this machine can take work; 503, and in words why, where not."""
    if why := why_not_ready():
        return _not_ready(f"not ready: {why}\n")
    return HttpResponse("ready\n", content_type="text/plain")


def why_not_ready() -> str:
    """What this machine lacks to take work, in words; empty where it lacks nothing."""
    if _database_away():
        return "the database does not answer"
    if kept_out():
        return "another machine restores or upgrades the shop"
    now, place = monotonic(), str(settings.DATA_DIR)
    at, why = _looked.get(place, (float("-inf"), ""))
    if now - at >= NEW_LOOK_AFTER_S:
        why = _migrations_missing() or _files_closed()
        _looked[place] = now, why
    return why


def _not_ready(words: str) -> HttpResponse:
    """An answer, and no error of the shop: whoever asks does so every few seconds."""
    return as_no_error(HttpResponse(words, content_type="text/plain", status=503))


def _database_away() -> bool:
    try:
        if file_went_away():
            raise OperationalError
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
    except (DatabaseError, InterfaceError):
        return True
    return False


def _migrations_missing() -> str:
    """Those of this code; a newer release may have made more, and this one goes on with them."""
    try:
        count = len(open_migrations(connections["default"]))
    except (DatabaseError, InterfaceError):
        return "the database does not answer"
    return f"migrations of this code that the database does not have: {count}" if count else ""


def _files_closed() -> str:
    """Tried by writing one: a disk that is full or was taken away lets itself be asked whether it may be written."""
    try:
        file_store().try_out()
    except OSError as error:
        return f"photos and papers cannot be written ({os_error_in_words(error)})"
    return ""
