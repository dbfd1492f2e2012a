"""Measuring the fork of a ticket: the readings, what they say, and taking that over as the geometry of this fork."""

from __future__ import annotations

from collections.abc import Callable

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from specs.measured_readings import LinesRefused
from specs.physics.atmosphere import pressure_at_altitude
from workshop.bench.measure_forms import MeasureForm
from workshop.bench.measure_pages import measurement_shown, taken_in_words
from workshop.staff.models import User
from workshop.staff.roles import Right
from workshop.suspension.measured_models import ForkMeasurement
from workshop.suspension.measuring import (
    CannotMeasure,
    MeasurementRefused,
    check_measurement,
    fit_of,
    fitting_diameters,
    measure_fork,
    take_measurement_back,
    take_over,
)
from workshop.tickets.models import Ticket
from workshop.web.once import sent_once
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop, with_right
from workshop.work.work import bench_ticket, fork_values

MOST_SHOWN = 20


@require_http_methods(["GET", "HEAD", "POST"])
@with_right(Right.ENTER_SPECS)
@sent_once
def new(request: ShopRequest, number: int) -> HttpResponse:
    """The readings of this ticket's fork, typed or from a file, and what was measured on it before."""
    ticket = bench_ticket(request.shop, number)
    values = fork_values(ticket).values
    form = MeasureForm(request.POST, request.FILES) if request.method == "POST" else MeasureForm()
    cannot = ""
    try:
        fitting_diameters(ticket.unit, values)
    except CannotMeasure as reason:
        cannot = str(reason)
    if request.method == "POST" and form.is_valid() and not cannot:
        try:
            measurement = measure_fork(
                unit=ticket.unit,
                means=form.cleaned_data["means"],
                made_up=form.cleaned_data["made_up"],
                text=form.cleaned_data["lines"],
                ambient_pa=pressure_at_altitude(request.shop.altitude_m),
                values=values,
                by=request.user,
            )
        except LinesRefused as refused:
            form.refuse(refused)
        else:
            return redirect("bench:measurement", number, measurement.pk)
    earlier = ForkMeasurement.objects.filter(unit=ticket.unit_id).select_related("entered_by")[:MOST_SHOWN]
    context = {"ticket": ticket, "form": form, "cannot": cannot, "earlier": earlier}
    return render(request, "bench/measure.html", context, status=422 if form.errors else 200)


@require_GET
@anyone_in_the_shop
def measurement(request: ShopRequest, number: int, pk: int) -> HttpResponse:
    """What the readings say, against the model, with what is off in each."""
    ticket = bench_ticket(request.shop, number)
    one = _measurement(ticket, pk)
    context = {
        "ticket": ticket,
        "measurement": one,
        "shown": measurement_shown(one, fork_values(ticket).values, request.shop),
        "taken": taken_in_words(fit_of(one)),
    }
    return render(request, "bench/measurement.html", context)


@require_GET
@anyone_in_the_shop
def file(request: ShopRequest, number: int, pk: int) -> HttpResponse:
    """The readings as they were typed, a file of our layout."""
    one = _measurement(bench_ticket(request.shop, number), pk)
    response = HttpResponse(one.lines, content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="readings-{one.pk}.csv"'
    return response


@require_POST
@with_right(Right.ENTER_SPECS)
def take_measured_over(request: ShopRequest, number: int, pk: int) -> HttpResponse:
    said = "This fork is calculated with what was measured on it from now on. A second person looks at it."
    return _move(request, number, pk, lambda one, by: take_over(measurement=one, by=by), said)


@require_POST
@with_right(Right.ENTER_SPECS)
def check_measured(request: ShopRequest, number: int, pk: int) -> HttpResponse:
    return _move(
        request,
        number,
        pk,
        lambda one, by: check_measurement(measurement=one, by=by),
        "It is checked by a second person.",
    )


@require_POST
@with_right(Right.ENTER_SPECS)
def take_measured_back(request: ShopRequest, number: int, pk: int) -> HttpResponse:
    said = "This fork is calculated with its model’s geometry again."
    return _move(request, number, pk, lambda one, by: take_measurement_back(measurement=one, by=by), said)


def _move(
    request: ShopRequest, number: int, pk: int, do: Callable[[ForkMeasurement, User], None], said: str
) -> HttpResponse:
    one = _measurement(bench_ticket(request.shop, number), pk)
    try:
        do(one, request.user)
    except MeasurementRefused as refused:
        messages.error(request, str(refused))
    else:
        messages.success(request, said)
    return redirect("bench:measurement", number, pk)


def _measurement(ticket: Ticket, pk: int) -> ForkMeasurement:
    people = ("entered_by", "taken_over_by", "checked_by", "taken_back_by")
    return get_object_or_404(ForkMeasurement.objects.select_related(*people), pk=pk, unit=ticket.unit_id)
