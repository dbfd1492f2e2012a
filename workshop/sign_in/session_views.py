"""One's own open sessions, ended; and the password asked for anew, on a page of its own."""

from __future__ import annotations

from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from workshop.staff.open_sessions import end_session, end_sessions
from workshop.staff.security_log import Did, note_by
from workshop.web.confirmed import CODE, PASSWORD, ConfirmForm, judge_confirmation
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop, with_password

REFUSED = 422


@never_cache
@sensitive_post_parameters(PASSWORD, CODE)
@require_http_methods(["GET", "HEAD", "POST"])
@anyone_in_the_shop
@with_password
def confirm(request: ShopRequest) -> HttpResponse:
    """The password, and the second factor where there is one; then on to where it was asked for."""
    wanted = request.POST.get("next", "") or request.GET.get("next", "")
    ours = url_has_allowed_host_and_scheme(wanted, {request.get_host()}, require_https=request.is_secure())
    next_page = wanted if ours and wanted.startswith(("/", "http")) else reverse("home")
    form = ConfirmForm(request.POST if request.method == "POST" else None, user=request.user)
    if form.is_bound and judge_confirmation(request, request.user, form):
        return redirect(next_page)
    context = {"form": form, "next": next_page}
    return render(request, "staff/confirm.html", context, status=REFUSED if form.errors else 200)


@require_POST
@anyone_in_the_shop
@with_password
def end_own_session(request: ShopRequest) -> HttpResponse:
    """One session of one's own, by its mark, or all but this one; pressed twice nothing more happens."""
    mark = request.POST.get("mark", "")
    with transaction.atomic():
        if mark:
            ended = int(end_session(request.user, mark))
        else:
            ended = end_sessions(request.user, but=request.session.session_key)
        if ended:
            note_by(request, Did.SESSIONS_ENDED, who=request.user.username, count=ended)
    messages.success(request, _said(ended))
    return redirect("second_factor")


def _said(ended: int) -> str:
    if not ended:
        return "It was ended already."
    return "1 session is ended." if ended == 1 else f"{ended} sessions are ended."
