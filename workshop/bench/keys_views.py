"""The page of the bench's keys, light and type, which are set on the tablet for who is signed in."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop


@require_GET
@anyone_in_the_shop
def keys(request: ShopRequest) -> HttpResponse:
    return render(request, "bench/keys.html")
