"""Text that no keyboard types."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.http import HttpRequest, HttpResponse, HttpResponseBase, QueryDict
from django.shortcuts import render

NUL = "\0"


class RefuseNulMiddleware:
    """Refuse a request with a NUL in its address or its fields: PostgreSQL cannot keep it, and nobody means it."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_view(
        self, request: HttpRequest, view_func: Callable[..., HttpResponseBase], view_args: Any, view_kwargs: Any
    ) -> HttpResponse | None:
        if NUL in request.path or _holds_nul(request.GET) or _holds_nul(request.POST):
            return render(request, "errors/not_text.html", status=400)
        return None


def _holds_nul(sent: QueryDict) -> bool:
    return any(NUL in name or any(NUL in value for value in values) for name, values in sent.lists())
