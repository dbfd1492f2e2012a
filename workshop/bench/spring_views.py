"""What the spring of a ticket's unit says, and how to get the geometry that is missing."""

from __future__ import annotations

import math
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from specs.models import SpecValue
from specs.units import show
from workshop.bench.spring_forms import FitForm
from workshop.staff.models import Shop
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop
from workshop.work.spring import spring_shown
from workshop.work.work import bench_ticket, fork_values, run_states


@require_GET
@anyone_in_the_shop
def spring(request: ShopRequest, number: int) -> HttpResponse:
    ticket = bench_ticket(request.shop, number)
    values = fork_values(ticket).values
    form = FitForm(request.GET if "travel_1" in request.GET else None, shop=request.shop)
    context = {
        "ticket": ticket,
        "spring": spring_shown(
            run_states(ticket), ticket.unit, request.shop, values=values, on_a_bike=ticket.bike_id is not None
        ),
        "form": form,
        "fitted": _fitted(form, values.get("piston_bore"), request.shop) if form.is_valid() else None,
    }
    return render(request, "bench/spring.html", context, status=422 if form.errors else 200)


def _fitted(form: FitForm, bore: SpecValue | None, shop: Shop) -> dict[str, Any] | None:
    """The fit in the shop's units: chamber length, and the volume where the piston bore is known."""
    fit = form.fit
    if fit is None:
        return None
    unit = shop.unit_for("length")
    low, mid, high = (
        show(length_m, "length", unit) for length_m in (fit.length_m.low, fit.length_m.mid, fit.length_m.high)
    )
    shown: dict[str, Any] = {
        "length": mid,
        "length_range": f"{low} to {high}",
        "residual": show(fit.residual_pa, "pressure", shop.unit_for("pressure")),
        "confidence": f"{fit.confidence:.0%}",
    }
    if bore is not None and bore.magnitude_si:
        volume = fit.positive_volume_m3(math.pi / 4 * bore.magnitude_si**2)
        unit = shop.unit_for("volume")
        shown["volume"] = show(volume.mid, "volume", unit)
        shown["volume_range"] = f"{show(volume.low, 'volume', unit)} to {show(volume.high, 'volume', unit)}"
    return shown
