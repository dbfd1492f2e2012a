"""The set-up guide: the owner's first page until it is done or left."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_POST

from workshop.office.set_up import guide_of, leave_for_later, leave_guide
from workshop.web.requests import ShopRequest
from workshop.web.roles import owner_only


@require_GET
@owner_only
def set_up(request: ShopRequest) -> HttpResponse:
    return render(request, "office/set_up.html", {"guide": guide_of(request.shop)})


@require_POST
@owner_only
def later(request: ShopRequest) -> HttpResponse:
    """Leave a step for later, or take it up again."""
    leave_for_later(shop=request.shop, key=request.POST.get("step", ""), later=request.POST.get("later") == "1")
    return redirect("office:set_up")


@require_POST
@owner_only
def leave(request: ShopRequest) -> HttpResponse:
    """Start with the overview from now on, or with the guide again."""
    left = request.POST.get("left") == "1"
    leave_guide(shop=request.shop, left=left)
    return redirect("office:overview" if left else "office:set_up")
