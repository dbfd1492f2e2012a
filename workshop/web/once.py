"""A form that adds something, pressed twice: the second press is answered like the first and adds nothing."""

from __future__ import annotations

import functools
import hashlib
from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import HttpResponse, HttpResponseBase
from django.shortcuts import redirect

from workshop.web.requests import ShopRequest

REMEMBERED = 20
TOKEN, PAGE = "csrfmiddlewaretoken", "page_mark"
_KEY = "sent_once"


def sent_once(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
    """Do what a form asks once for each page it was opened on.

    Each page is drawn with a token of its own against forged forms; the same token with the same words is the same
    press. A browser sends the token of the moment instead, and the page's own beside it (static/js/htmx-csrf.js).
    Words that were refused are forgotten: mended or not, they may be sent again. Two presses within the same moment
    are told apart only where the first was answered before the second is read.
    """

    @functools.wraps(view)
    def once(request: ShopRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if request.method != "POST" or not request.POST.get(TOKEN):
            return view(request, *args, **kwargs)
        sent = dict(request.POST.lists())
        if sent.get(PAGE):
            del sent[TOKEN]  # of the moment: it says nothing of the page
        press = hashlib.sha256(f"{request.path}\n{sorted(sent.items())}".encode()).hexdigest()
        answered: dict[str, str] = request.session.get(_KEY, {})
        if press in answered:
            messages.info(request, "This was sent already and is done once. To do it again, enter it again.")
            return redirect(answered[press])
        response = view(request, *args, **kwargs)
        if _is_done(response):
            request.session[_KEY] = dict([*answered.items(), (press, response["Location"])][-REMEMBERED:])
        return response

    return once


def _is_done(response: HttpResponseBase) -> bool:
    return response.status_code == 302
