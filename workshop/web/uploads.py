"""What may be sent at once, looked at before a byte is read: else anybody could fill the disk with one request."""

from __future__ import annotations

import io
from collections.abc import Callable
from typing import Any

from django.contrib.auth import get_user
from django.contrib.sessions.middleware import SessionMiddleware
from django.core.files.uploadedfile import UploadedFile
from django.core.handlers.wsgi import WSGIRequest
from django.db import DatabaseError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from workshop.web.faults import CROWDED, DISK, fault_page, words_for
from workshop.web.plain_text import short_name

TOO_LARGE = 413
# A dozen photos of 20 MB; for those without a login, the tracks of a customer's page.
MOST_OF_STAFF_BYTES = 256 << 20
MOST_OF_OTHERS_BYTES = 64 << 20


# In the environment of a request whose body found no room on the server: workshop.web.arriving.NoRoom, saying why.
NOT_TAKEN_IN = "workshop.not_taken_in"


class RefuseHugeMiddleware:
    """Refuse a request that says it is larger than any form of ours. One that does not say its size is not read."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if (not_taken_in := request.META.get(NOT_TAKEN_IN)) is not None:
            return fault_page(*_words_for_no_room(not_taken_in))
        size = request.META.get("CONTENT_LENGTH") or "0"
        if len(size) > 12 or (size.isdigit() and int(size) > MOST_OF_OTHERS_BYTES and int(size) > _most_of(request)):
            return render(request, "errors/too_large.html", status=TOO_LARGE)
        return self.get_response(request)


def _words_for_no_room(refused: BaseException) -> tuple[str, str]:
    cause = refused.__cause__
    return CROWDED if cause is None else words_for(cause) or DISK


def may_send(environ: dict[str, Any], size: int) -> bool:
    """Whether a body of this size is taken in at all. Else the request is answered unread, by the middleware above."""
    request = WSGIRequest(environ | {"wsgi.input": io.BytesIO()})
    try:
        SessionMiddleware(lambda _: HttpResponse()).process_request(request)
        request.user = get_user(request)
        return size <= _most_of(request)
    except DatabaseError:
        return False


def file_name(file: UploadedFile[Any]) -> str:
    """What to call an uploaded file in a message."""
    return f"“{short_name(file.name or '')}”"


def _most_of(request: HttpRequest) -> int:
    return MOST_OF_STAFF_BYTES if request.user.is_authenticated else MOST_OF_OTHERS_BYTES
