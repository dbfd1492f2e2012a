"""Who works here: adding people, their names and roles, and what an owner does about their sign-in."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from workshop.counter.saving import REFUSED, edit_page, put_beside_fields
from workshop.office.changing_staff import change_staff
from workshop.office.forms import StaffForm
from workshop.staff.adding import StaffProblem, add_staff, let_set_prices, set_active, set_new_password
from workshop.staff.models import User
from workshop.staff.second_factor import take_off
from workshop.web.once import sent_once
from workshop.web.requests import ShopRequest
from workshop.web.roles import owner_only


@require_http_methods(["GET", "HEAD", "POST"])
@owner_only
@sent_once
def staff(request: ShopRequest) -> HttpResponse:
    """Who works here; a new member's first password is shown once and must be changed at the first sign-in."""
    form = StaffForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            member, password = add_staff(shop=request.shop, by=request.user, **form.cleaned_data)
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
def staff_member(request: ShopRequest, pk: int) -> HttpResponse:
    """Somebody's names, sign-in name and roles, and what can be done about their sign-in."""
    member = get_object_or_404(User.objects.select_related("second_factor"), pk=pk, shop=request.shop)
    name, version, own = str(member), member.version, member.pk == request.user.pk
    form = StaffForm(request.POST) if request.method == "POST" else StaffForm.of(member)

    def save(seen: int) -> None:
        changed = change_staff(member=member, seen_version=seen, **form.cleaned_data)
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
        context={"member": member, "member_name": name},
    )


@require_POST
@owner_only
def staff_password(request: ShopRequest, pk: int) -> HttpResponse:
    member = get_object_or_404(User, pk=pk, shop=request.shop)
    password = set_new_password(member=member)
    messages.success(request, f"{member}'s new password is {password}. It must be changed at the next sign-in.")
    return redirect("office:staff_member", pk)


@require_POST
@owner_only
def staff_active(request: ShopRequest, pk: int) -> HttpResponse:
    member = get_object_or_404(User, pk=pk, shop=request.shop)
    try:
        set_active(member=member, active=request.POST.get("active") == "1", by=request.user)
    except StaffProblem as problem:
        messages.error(request, str(problem))
    return redirect("office:staff_member", pk)


@require_POST
@owner_only
def staff_prices(request: ShopRequest, pk: int) -> HttpResponse:
    member = get_object_or_404(User, pk=pk, shop=request.shop)
    let_set_prices(member=member, allowed=request.POST.get("allowed") == "1")
    return redirect("office:staff_member", pk)


@require_POST
@owner_only
def staff_second_factor_off(request: ShopRequest, pk: int) -> HttpResponse:
    """For somebody who has lost phone and recovery codes. One's own comes off with a code, on one's own page."""
    member = get_object_or_404(User, pk=pk, shop=request.shop)
    if member == request.user:
        return redirect("second_factor")
    if take_off(user=member):
        messages.success(request, f"{member} signs in with the password alone until a second factor is set up anew.")
    return redirect("office:staff_member", pk)
