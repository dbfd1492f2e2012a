"""Booking in: one page for a known or new customer, bike and unit."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.contrib import messages
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST
from django_htmx.http import HttpResponseClientRedirect

from workshop.counter.complaint_choices import complaint_groups, how_often
from workshop.counter.complaint_views import kind_described, suggestions
from workshop.counter.finding import (
    known_bikes,
    known_units,
    load_of_days,
    unit_with_tickets,
    units_of_serial,
    who_it_may_be,
)
from workshop.counter.intake_form import NEW, NONE, IntakeForm
from workshop.counter.saving import REFUSED
from workshop.counter.squeezing import is_known, keep_tick
from workshop.counter.unit_views import models_context
from workshop.promise.honest import HonestDay, earliest_day
from workshop.promise.squeezed import Pushed, pushed_by_booking, pushed_in_words
from workshop.tickets.condition import PLACES
from workshop.tickets.models import Ticket
from workshop.web.converters import key_from
from workshop.web.requests import ShopRequest
from workshop.web.roles import counter_only


@require_http_methods(["GET", "POST"])
@counter_only
def book_in(request: ShopRequest) -> HttpResponse:
    """The page, and booking in. `?customer=` or `?unit=` start with somebody or something known."""
    if request.method != "POST":
        return _page(request, _intake(request, request.GET), opens=True)
    intake = _intake(request, request.POST)
    ticket = _take_in(request, intake)
    if ticket is None:
        return _page(request, intake, status=REFUSED)
    messages.success(request, f"Ticket {ticket.number} is booked in. Print its label and tie it on.")
    there = reverse("counter:ticket", args=[ticket.number])
    if "and_more" in request.POST:
        there = f"{reverse('counter:book_in')}?beside={ticket.number}"
    return HttpResponseClientRedirect(there) if request.htmx else redirect(there)


def _take_in(request: ShopRequest, intake: IntakeForm) -> Ticket | None:
    if not intake.is_valid():
        keep_tick(intake.agreement_form, "promised_on")
        return None
    day = intake.agreement_form.cleaned_data["promised_on"]
    pushed = [] if intake.was_booked else _pushed(intake, day)
    if not is_known(intake.agreement_form, "promised_on", day, pushed):
        return None
    return intake.take_in(request.user, _honest_day(intake), pushed)


@require_POST
@counter_only
def look_up(request: ShopRequest) -> HttpResponse:
    """The page again with what is known under the words typed so far; how it works without script."""
    return _page(request, _intake(request, request.POST))


@require_POST
@counter_only
def customers(request: ShopRequest) -> HttpResponse:
    """Who it may be, while the name or phone number is typed."""
    intake = _intake(request, request.POST)
    return render(request, "counter/_book_in_customers.html", {"intake": intake, "customer_hits": _customers(intake)})


@require_POST
@counter_only
def things(request: ShopRequest) -> HttpResponse:
    """The units and bikes of the customer who was chosen."""
    intake = _intake(request, request.POST)
    if (request.htmx.trigger or "").startswith("customer-"):  # a person was chosen after the unit
        intake.leave_things_of_others({unit.pk for unit in units_of_serial(intake.shop, intake.typed_serial)})
    owner_follows = intake.customer is not None and request.POST.get("customer", NEW) == NEW
    hits = _customers(intake) if owner_follows else []
    context = {**_things(intake), "owner_follows": owner_follows, "customer_hits": hits}
    return render(request, "counter/_book_in_things_chosen.html", context)


@require_POST
@counter_only
def models(request: ShopRequest) -> HttpResponse:
    """Models from the specs, while make and model are typed."""
    form = _intake(request, request.POST).unit_form
    return render(request, "counter/_model_hits.html", {"form": form, **models_context(form)})


@require_POST
@counter_only
def serials(request: ShopRequest) -> HttpResponse:
    """Known units, while a serial is typed."""
    intake = _intake(request, request.POST)
    return render(request, "counter/_serial_hits.html", {"intake": intake, "serial_hits": _serials(intake)})


@require_POST
@counter_only
def promise(request: ShopRequest) -> HttpResponse:
    """The earliest honest day, and what a day that is typed pushes, while unit and complaints are chosen."""
    intake = _intake(request, request.POST)
    day = _typed_day(intake)
    pushed = _pushed(intake, day) if day is not None and day >= intake.today else []
    context = {"honest": _honest_day(intake), "pushed": pushed_in_words(pushed)}
    return render(request, "counter/_honest_day.html", context)


def _typed_day(intake: IntakeForm) -> dt.date | None:
    try:
        return dt.date.fromisoformat(intake.data.get("ticket-promised_on", ""))
    except ValueError:
        return None


def _honest_day(intake: IntakeForm) -> HonestDay:
    unit = intake.unit
    model = unit.model_id if unit else key_from(intake.data.get("unit-model"))
    return earliest_day(intake.shop, intake.today, kind=_kind(intake), complaints=_complaints(intake), model_pk=model)


def _pushed(intake: IntakeForm, day: dt.date) -> list[Pushed]:
    kind, chosen = _kind(intake), _complaints(intake)
    return pushed_by_booking(intake.shop, intake.today, promised_on=day, kind=kind, complaints=chosen)


def _complaints(intake: IntakeForm) -> list[int]:
    chosen = [key for key in map(key_from, intake.data.getlist("ticket-complaints")) if key is not None]
    return chosen[:20]


def _kind(intake: IntakeForm) -> str:
    return kind_described(intake.data, intake.unit.kind if intake.unit else None)


def _intake(request: ShopRequest, data: QueryDict) -> IntakeForm:
    return IntakeForm(request.shop, data, request.FILES if request.method == "POST" else None, timezone.localdate())


def _page(request: ShopRequest, intake: IntakeForm, status: int = 200, *, opens: bool = False) -> HttpResponse:
    things = _things(intake)
    if opens:
        _focus_what_is_missing(intake, unit_is_known=things["unit_choice"] != NEW)
    context = {
        **things,
        "customer_hits": _customers(intake),
        # A new form asks for it once it is there; see the promise section of the template.
        "honest": _honest_day(intake) if request.method == "POST" else None,
        "suggestions": suggestions(intake.data, _kind(intake), intake.agreement_form),
        "complaint_groups": complaint_groups(intake.agreement_form, how_often(request.shop)),
        "load": load_of_days(request.shop, intake.today),
        "places": PLACES,
        "photos_dropped": 0 if request.htmx else intake.photos_were_chosen,
    }
    template = "counter/_book_in_form.html" if request.htmx else "counter/book_in.html"
    return render(request, template, context, status=status)


def _focus_what_is_missing(intake: IntakeForm, *, unit_is_known: bool) -> None:
    """Typing goes on where the page is empty: who it is, or what is said of a fork that is known already."""
    if intake.customer is None:
        intake.customer_form.fields["name"].widget.attrs["autofocus"] = True
    elif unit_is_known:
        intake.agreement_form.fields["complaint_words"].widget.attrs["autofocus"] = True


def _customers(intake: IntakeForm) -> list[Any]:
    return who_it_may_be(intake.shop, intake.data.get("customer-name", ""), intake.data.get("customer-phone", ""))


def _things(intake: IntakeForm) -> dict[str, Any]:
    units = known_units(intake.customer) if intake.customer else []
    if intake.unit is not None and intake.unit not in units:
        units = [unit_with_tickets(intake.unit), *units]
    only_one = units[0] if len(units) == 1 and "unit" not in intake.data else None
    unit = intake.unit or (only_one if only_one is not None and getattr(only_one, "inside", None) is None else None)
    bikes = known_bikes(intake.customer, unit) if intake.customer else []
    return {
        "intake": intake,
        "units": units,
        "unit_choice": unit.pk if unit else NEW,
        "bikes": bikes,
        "bike_choice": intake.bike_choice or _usual_bike(bikes),
        "serial_hits": _serials(intake),
        **models_context(intake.unit_form),
    }


def _usual_bike(bikes: list[Any]) -> str:
    """The bike that carries the unit, else the only one, else none."""
    carrying = [bike for bike in bikes if bike.carries] or (bikes if len(bikes) == 1 else [])
    return str(carrying[0].pk) if carrying else NONE


def _serials(intake: IntakeForm) -> list[Any]:
    hits = units_of_serial(intake.shop, intake.typed_serial)
    mine = intake.customer.pk if intake.customer else None
    return [unit for unit in hits if unit.customer_id != mine and unit != intake.unit]
