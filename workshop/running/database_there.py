"""Nothing is read from or written to a database that is not the shop's any more, or that a restore is taking away."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

from workshop.running.opened_file import file_went_away
from workshop.running.seen_serving import kept_out
from workshop.web.faults import MOVED, MOVED_MEANWHILE, TAKEN, fault_page
from workshop.web.no_error import as_no_error


class DatabaseThereMiddleware:
    """Before a request, so that it begins nothing; and after it, so that no write into nothing is acknowledged."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if request.path in {"/health", "/live", "/ready", "/metrics"}:  # say so themselves, in a word
            return self.get_response(request)
        if file_went_away():
            return fault_page(*MOVED)
        if kept_out():
            return as_no_error(fault_page(*TAKEN))
        response = self.get_response(request)
        return fault_page(*MOVED_MEANWHILE) if file_went_away() else response
