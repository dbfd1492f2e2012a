"""Who works here: adding people, their names and roles, and what an owner does about their sign-in."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from workshop.counter.saving import REFUSED, edit_page, put_beside_fields
from workshop.office.changing_staff import change_staff
from workshop.office.forms import StaffForm
from workshop.staff.adding import StaffProblem, add_staff, let_set_prices, set_active, set_new_password
from workshop.staff.models import User
from workshop.staff.open_sessions import end_session, end_sessions, sessions_of
from workshop.staff.roles import role_words
from workshop.staff.second_factor import take_off
from workshop.staff.security_log import Did, note_by
from workshop.web.confirmed import confirmed
from workshop.web.once import sent_once
from workshop.web.requests import ShopRequest
from workshop.web.roles import owner_only


@require_http_methods(["GET", "HEAD", "POST"])
@owner_only
@confirmed
@sent_once
def staff(request: ShopRequest) -> HttpResponse:
    """Who works here; a new member's first password is shown once and must be changed at the first sign-in."""
    form = StaffForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            with transaction.atomic():
                typed = form.cleaned_data
                note_by(request, Did.STAFF_ADDED, who=typed["username"], roles=role_words(typed["roles"]))
                member, password = add_staff(shop=request.shop, by=request.user, **typed)
        except ValidationError as refused:
            put_beside_fields(form, refused)
        else:
            said = f"{member} may sign in as “{member.username}” with {password} and then chooses another."
            messages.success(request, said)
            return redirect("office:staff")
    members = User.objects.filter(shop=request.shop).select_related("second_factor")
    context = {"form": form, "members": members.order_by("-is_active", "roles", "username")}
    return render(request, "office/staff.html", context, status=REFUSED if form.errors else 200)


@require_http_methods(["GET", "HEAD", "POST"])
@owner_only
@confirmed
def staff_member(request: ShopRequest, pk: int) -> HttpResponse:
    """Somebody's names, sign-in name and roles, and what can be done about their sign-in."""
    member = get_object_or_404(User.objects.select_related("second_factor"), pk=pk, shop=request.shop)
    name, version, own = str(member), member.version, member.pk == request.user.pk
    form = StaffForm(request.POST) if request.method == "POST" else StaffForm.of(member)

    def save(seen: int) -> None:
        typed = form.cleaned_data
        with transaction.atomic():
            words = {"who": typed["username"], "roles": role_words(typed["roles"]), "was": member.role_words}
            note_by(request, Did.STAFF_CHANGED, **words)
            changed = change_staff(member=member, seen_version=seen, **typed)
        if own and not changed.is_owner:
            messages.info(request, "You are no owner any more, so the office is closed to you.")

    stays_owner = not own or "owner" in request.POST.getlist("roles", [])
    return edit_page(
        request,
        template="office/staff_member.html",
        form=form,
        version=version,
        save=save,
        form_of=StaffForm.of,
        done_url=reverse("office:staff" if stays_owner else "home"),
        said="Saved. It holds at once, also where they are signed in already.",
        context={
            "member": member,
            "member_name": name,
            "sessions": sessions_of(member, this=request.session.session_key),
        },
    )


@require_POST
@owner_only
@confirmed
def staff_password(request: ShopRequest, pk: int) -> HttpResponse:
    member = get_object_or_404(User, pk=pk, shop=request.shop)
    if member == request.user:
        return redirect("change_password")  # a new first one would end this session before anybody read it
    with transaction.atomic():
        note_by(request, Did.PASSWORD_RESET, who=member.username)
        password = set_new_password(member=member)
    messages.success(request, f"{member}'s new password is {password}. It must be changed at the next sign-in.")
    return redirect("office:staff_member", pk)


@require_POST
@owner_only
@confirmed
def staff_active(request: ShopRequest, pk: int) -> HttpResponse:
    member = get_object_or_404(User, pk=pk, shop=request.shop)
    active = request.POST.get("active") == "1"
    try:
        with transaction.atomic():
            if member.is_active != active:  # pressed twice, it was done once
                note_by(request, Did.LET_IN if active else Did.SHUT_OUT, who=member.username)
            set_active(member=member, active=active, by=request.user)
    except StaffProblem as problem:
        messages.error(request, str(problem))
    return redirect("office:staff_member", pk)


@require_POST
@owner_only
@confirmed
def staff_prices(request: ShopRequest, pk: int) -> HttpResponse:
    member = get_object_or_404(User, pk=pk, shop=request.shop)
    allowed = request.POST.get("allowed") == "1"
    with transaction.atomic():
        if member.sets_prices != allowed:
            note_by(request, Did.PRICES_ALLOWED if allowed else Did.PRICES_NOT_ALLOWED, who=member.username)
        let_set_prices(member=member, allowed=allowed)
    return redirect("office:staff_member", pk)


@require_POST
@owner_only
@confirmed
def staff_second_factor_off(request: ShopRequest, pk: int) -> HttpResponse:
    """For somebody who has lost phone and recovery codes. One's own comes off with a code, on one's own page."""
    member = get_object_or_404(User, pk=pk, shop=request.shop)
    if member == request.user:
        return redirect("second_factor")
    with transaction.atomic():
        note_by(request, Did.FACTOR_RESET, who=member.username)
        if was_on := take_off(user=member):
            end_sessions(member)
        else:
            transaction.set_rollback(True)  # nothing was done, and nothing is to be said of it
    if was_on:
        messages.success(request, f"{member} signs in with the password alone until a second factor is set up anew.")
    return redirect("office:staff_member", pk)


@require_POST
@owner_only
def staff_sessions_end(request: ShopRequest, pk: int) -> HttpResponse:
    """One session of somebody, by its mark, or all of them; of one's own all but this one."""
    member = get_object_or_404(User, pk=pk, shop=request.shop)
    mark = request.POST.get("mark", "")
    with transaction.atomic():
        this = request.session.session_key if member.pk == request.user.pk else None
        ended = int(end_session(member, mark)) if mark else end_sessions(member, but=this)
        if ended:
            note_by(request, Did.SESSIONS_ENDED, who=member.username, count=ended)
    said = f"{ended} session{'' if ended == 1 else 's'} of {member} ended." if ended else "It was ended already."
    messages.success(request, said)
    return redirect("office:staff_member", pk)
