"""What a form sent, kept on the page that could not do it yet: going back may find an empty form."""

from __future__ import annotations

from collections.abc import Collection

from django.http import HttpRequest

from workshop.web.once import TOKEN


def carried_of(request: HttpRequest, *, but: Collection[str] = ()) -> list[tuple[str, str]]:
    """Names and values in their order, without `but` and the token against forged forms, which is made anew."""
    left_out = {TOKEN, *but}
    return [(name, str(value)) for name, values in request.POST.lists() if name not in left_out for value in values]


def files_sent(request: HttpRequest) -> bool:
    """Whether files were sent, which do not go along."""
    return bool(request.FILES)
