"""What is dearest asks for the password anew, and the second factor, unless both were right a moment ago.

What a form sent goes along on the page that asks, small files too, and is done as soon as the password is right: the
form's own view sees it as it was sent.
"""

from __future__ import annotations

import base64
import binascii
from collections.abc import Callable, Iterator
from functools import wraps
from typing import Any, Concatenate, ParamSpec, cast

from django import forms
from django.contrib import messages
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.datastructures import MultiValueDict
from django.utils.http import urlencode
from django.views.decorators.debug import sensitive_post_parameters
from django_htmx.http import HttpResponseClientRedirect

from workshop.staff.confirming import confirm, confirmed_lately
from workshop.staff.models import User
from workshop.staff.second_factor import CodeRefused, second_factor_of, use_code
from workshop.staff.typed_password import why_not_password
from workshop.web.carried import carried_of
from workshop.web.middleware import PAGE_PERSON
from workshop.web.once import PAGE
from workshop.web.requests import ShopRequest

P = ParamSpec("P")
View = Callable[Concatenate[ShopRequest, P], HttpResponse]

FIRST = 401
PASSWORD, CODE, FILE = "confirm_password", "confirm_code", "confirm_file"
MOST_FILE_BYTES = 3 << 20
_OURS = {PASSWORD, CODE, FILE, PAGE, PAGE_PERSON}  # and what the page that asks says of itself anew


class ConfirmForm(forms.Form):
    """The password of who is signed in, and the code where they have a second factor."""

    confirm_password = forms.CharField(
        label="Your password",
        max_length=200,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password", "autofocus": True}),
    )
    confirm_code = forms.CharField(
        label="Code of your authenticator app",
        max_length=40,
        widget=forms.TextInput(
            attrs={"autocomplete": "one-time-code", "autocapitalize": "none", "spellcheck": "false"}
        ),
    )

    def __init__(self, *args: Any, user: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if second_factor_of(user) is None:
            del self.fields[CODE]


def judge_confirmation(request: HttpRequest, user: User, form: ConfirmForm) -> bool:
    """Whether password and code are right; else the form says which is not. Wrong ones count as at the sign-in."""
    if not form.is_valid():
        return False
    if why := why_not_password(request, user, form.cleaned_data[PASSWORD]):
        form.add_error(PASSWORD, why)
        return False
    if CODE in form.fields:
        try:
            use_code(user=user, typed=form.cleaned_data[CODE])
        except CodeRefused as refused:
            form.add_error(CODE, str(refused))
            return False
    confirm(request)
    return True


def confirmed(view: View[P]) -> View[P]:
    """Before a form does what it asks. Stands below the right that is asked for; looking at the page asks nothing."""

    @sensitive_post_parameters(PASSWORD, CODE)
    @wraps(view)
    def asked(request: ShopRequest, *args: P.args, **kwargs: P.kwargs) -> HttpResponse:
        if request.method != "POST":
            return view(request, *args, **kwargs)
        is_answer = PASSWORD in request.POST
        if confirmed_lately(request):
            _as_it_was_sent(request)  # the page that asks, pressed twice
            return view(request, *args, **kwargs)
        if getattr(request, "htmx", False):
            return HttpResponseClientRedirect(f"{reverse('confirm')}?{urlencode({'next': _page_of(request)})}")
        form = ConfirmForm(request.POST if is_answer else None, user=request.user)
        if is_answer and judge_confirmation(request, request.user, form):
            _as_it_was_sent(request)
            return view(request, *args, **kwargs)
        return _ask(request, form)

    return cast("View[P]", asked)


def confirmed_first(back: str) -> Callable[[View[P]], View[P]]:
    """Before a file goes out. The page that asks leads back to the route `back`, where it is pressed again."""

    def decorate(view: View[P]) -> View[P]:
        @wraps(view)
        def asked(request: ShopRequest, *args: P.args, **kwargs: P.kwargs) -> HttpResponse:
            if confirmed_lately(request):
                return view(request, *args, **kwargs)
            messages.info(request, "Taking all of it along asks for your password anew. Then press it again.")
            return redirect(f"{reverse('confirm')}?{urlencode({'next': reverse(back)})}")

        return cast("View[P]", asked)

    return decorate


def _ask(request: ShopRequest, form: ConfirmForm) -> HttpResponse:
    carried = carried_of(request, but=_OURS)
    files, left_out = _files_to_carry(request)
    context = {"form": form, "carried": carried, "files": files, "left_out": left_out}
    return render(request, "staff/confirm.html", context, status=FIRST)


def _files_to_carry(request: ShopRequest) -> tuple[list[str], list[str]]:
    """Files as text to go along, those of an earlier page too; and the names of those that are too large to."""
    carried, left_out = list(request.POST.getlist(FILE)), []
    for name, files in request.FILES.lists():
        for file in files:
            if (file.size or 0) > MOST_FILE_BYTES:
                left_out.append(file.name or name)
                continue
            content = base64.b64encode(file.read()).decode("ascii")
            carried.append("\n".join((name, file.name or "file", file.content_type or "", content)))
    return carried, left_out


def _as_it_was_sent(request: ShopRequest) -> None:
    """Take what this module added out of what was sent, and put the files back."""
    if PASSWORD not in request.POST:
        return
    sent = request.POST.copy()
    files: MultiValueDict[str, Any] = MultiValueDict()
    for name, file in _files_of(sent):
        files.appendlist(name, file)
    for name in (PASSWORD, CODE, FILE):
        sent.pop(name, None)
    cast("Any", request).POST = _frozen(sent)
    if files:
        cast("Any", request)._files = files


def _files_of(sent: QueryDict) -> Iterator[tuple[str, SimpleUploadedFile]]:
    for text in sent.getlist(FILE):
        parts = str(text).replace("\r\n", "\n").split("\n", 3)
        if len(parts) != 4:
            continue
        name, file_name, kind, content = parts
        try:
            yield name, SimpleUploadedFile(file_name, base64.b64decode(content, validate=True), kind)
        except (binascii.Error, ValueError):
            continue


def _frozen(sent: QueryDict) -> QueryDict:
    sent._mutable = False
    return sent


def _page_of(request: HttpRequest) -> str:
    return request.headers.get("HX-Current-URL", "") or reverse("home")
