"""The owner's page about the system under the shop."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from workshop.running.standing import standing_of_system
from workshop.web.requests import ShopRequest
from workshop.web.roles import owner_only


@require_GET
@owner_only
def system(request: ShopRequest) -> HttpResponse:
    return render(request, "office/system.html", {"standing": standing_of_system(request.shop, timezone.now())})
