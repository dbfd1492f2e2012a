"""A stored file as an answer; one that is lost is said so in words, with status 404."""

from __future__ import annotations

from typing import Any

from django.http import FileResponse, Http404, HttpResponse
from django.template.loader import render_to_string

from workshop.web.storage import file_or_none


def hand_out(name: str | None, **options: Any) -> HttpResponse:
    """The file, by the options of FileResponse. Whoever calls has asked who may see it.

    Raises:
        Http404: there was never a file.
        workshop.web.storage.StoreAway: the store does not answer.
    """
    if not name:
        raise Http404
    file = file_or_none(name)
    if file is None:
        return HttpResponse(render_to_string("errors/missing_file.html"), status=404)
    response = FileResponse(file, **options)
    response["X-Content-Type-Options"] = "nosniff"
    return response  # type: ignore[return-value]  # views say HttpResponse, as their decorators do
