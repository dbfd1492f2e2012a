"""Nothing is read from or written to a database file that is not the shop's any more."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse

from workshop.running.opened_file import file_went_away
from workshop.web.faults import MOVED, MOVED_MEANWHILE, fault_page


class DatabaseThereMiddleware:
    """Before a request, so that it begins nothing; and after it, so that no write into nothing is acknowledged."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if request.path in {"/health", "/live", "/ready", "/metrics"}:  # say so themselves, in a word
            return self.get_response(request)
        if file_went_away():
            return fault_page(*MOVED)
        response = self.get_response(request)
        return fault_page(*MOVED_MEANWHILE) if file_went_away() else response
