"""The Office: the owner's overview, the shop's settings and its staff."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from workshop.office.forms import ShopForm, StaffForm
from workshop.office.overview import overview_of
from workshop.staff.adding import StaffProblem, add_staff, set_active, set_new_password
from workshop.staff.models import User
from workshop.staff.second_factor import take_off
from workshop.web.public_address import server_answers_to
from workshop.web.requests import ShopRequest
from workshop.web.roles import owner_only


@require_GET
@owner_only
def overview(request: ShopRequest) -> HttpResponse:
    today = timezone.localdate()
    return render(request, "office/overview.html", {"overview": overview_of(request.shop, today), "today": today})


@require_http_methods(["GET", "HEAD", "POST"])
@owner_only
def shop_settings(request: ShopRequest) -> HttpResponse:
    form = ShopForm(request.POST or None, instance=request.shop)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, "The shop's settings are saved.")
        address = form.cleaned_data["public_address"]
        if address and not server_answers_to(address):
            messages.warning(
                request,
                f"This server does not answer to {address} yet. Unless the proxy in front passes another name on, set "
                "ALLOWED_HOSTS on the server, or customers' links end in an error.",
            )
        return redirect("office:shop_settings")
    return render(request, "office/shop_settings.html", {"form": form}, status=422 if form.errors else 200)


@require_http_methods(["GET", "HEAD", "POST"])
@owner_only
def staff(request: ShopRequest) -> HttpResponse:
    """Who works here; a new member's first password is shown once and must be changed at the first sign-in."""
    form = StaffForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        member, password = add_staff(shop=request.shop, by=request.user, **form.cleaned_data)
        said = f"{member} may sign in as “{member.username}” with {password} and then chooses another."
        messages.success(request, said)
        return redirect("office:staff")
    members = User.objects.filter(shop=request.shop).select_related("second_factor")
    context = {"form": form, "members": members.order_by("-is_active", "role", "username")}
    return render(request, "office/staff.html", context, status=422 if form.errors else 200)


@require_POST
@owner_only
def staff_password(request: ShopRequest, pk: int) -> HttpResponse:
    member = get_object_or_404(User, pk=pk, shop=request.shop)
    password = set_new_password(member=member)
    messages.success(request, f"{member}'s new password is {password}. It must be changed at the next sign-in.")
    return redirect("office:staff")


@require_POST
@owner_only
def staff_active(request: ShopRequest, pk: int) -> HttpResponse:
    member = get_object_or_404(User, pk=pk, shop=request.shop)
    try:
        set_active(member=member, active=request.POST.get("active") == "1", by=request.user)
    except StaffProblem as problem:
        messages.error(request, str(problem))
    return redirect("office:staff")


@require_POST
@owner_only
def staff_second_factor_off(request: ShopRequest, pk: int) -> HttpResponse:
    """For somebody who has lost phone and recovery codes. One's own comes off with a code, on one's own page."""
    member = get_object_or_404(User, pk=pk, shop=request.shop)
    if member == request.user:
        return redirect("second_factor")
    if take_off(user=member):
        messages.success(request, f"{member} signs in with the password alone until a second factor is set up anew.")
    return redirect("office:staff")
