"""Whether the shop answers, for a proxy or a watch. It says yes or no, and nothing of the shop.

`/live` says that this process answers: where it does not, start it anew. `/health` says that the database does, too:
where it does not, send nobody here until it does; starting this anew would not mend that.
"""

from __future__ import annotations

from django.contrib.auth.decorators import login_not_required
from django.db import DatabaseError, InterfaceError, OperationalError, connection
from django.http import HttpRequest, HttpResponse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from workshop.running.opened_file import file_went_away


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
    try:
        if file_went_away():
            raise OperationalError
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
    except (DatabaseError, InterfaceError):
        return HttpResponse("not ready\n", content_type="text/plain", status=503)
    return HttpResponse("ready\n", content_type="text/plain")
