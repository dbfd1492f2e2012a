"""A unit's hours, rules and services: pages for the staff, reached from the unit and the ticket."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from workshop.counter.intervals_forms import (
    CounterForm,
    RuleForm,
    ServiceElsewhereForm,
    TicketServicesForm,
    TracksForm,
    WeeklyForm,
)
from workshop.counter.saving import put_beside_fields
from workshop.intervals.gpx import GpxRefused
from workshop.intervals.models import CounterReading, Level, Ride, ServiceDone, UnitRule, WeeklyHours
from workshop.intervals.riding import keep_rides, last_change_of_owner, read_counter, say_weekly_hours
from workshop.intervals.rules import NO_RULE_YET, newest_rule, set_rule
from workshop.intervals.sent import TracksWait, read_sent_tracks
from workshop.intervals.services import correct_services_done, note_service_elsewhere
from workshop.intervals.standing import figures_of, standing_of
from workshop.portal.views import say_what_was_kept
from workshop.suspension.models import SuspensionUnit
from workshop.tickets.access import ticket_of
from workshop.tickets.models import Ticket
from workshop.web.refused_uploads import WAIT, Sender
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop, counter_only
from workshop.web.uploads import file_name
from workshop.web.versions import StaleVersion

REFUSED, CHANGED_MEANWHILE = 422, 409
MOST_ROWS, MOST_RIDES = 12, 5


@require_GET
@anyone_in_the_shop
def unit(request: ShopRequest, pk: int) -> HttpResponse:
    return _page(request, _unit(request, pk))


@require_POST
@counter_only
def say_weekly(request: ShopRequest, pk: int) -> HttpResponse:
    the_unit, form = _unit(request, pk), WeeklyForm(request.POST)
    if form.is_valid():
        data = form.cleaned_data
        try:
            say_weekly_hours(
                unit=the_unit,
                hours_per_week=data["hours_per_week"],
                since=data["since"],
                conditions=data["conditions"],
                said_by_customer=data["said_by"] == "customer",
                by=request.user,
            )
        except ValidationError as error:
            put_beside_fields(form, error)
        else:
            return _done(request, the_unit, "The weekly hours are noted.")
    return _page(request, the_unit, weekly_form=form)


@require_POST
@counter_only
def counter_reading(request: ShopRequest, pk: int) -> HttpResponse:
    the_unit, form = _unit(request, pk), CounterForm(request.POST)
    if form.is_valid():
        try:
            read_counter(unit=the_unit, by=request.user, **form.cleaned_data)
        except ValidationError as error:
            put_beside_fields(form, error)
        else:
            return _done(request, the_unit, "The reading is noted.")
    return _page(request, the_unit, counter_form=form)


@require_POST
@counter_only
def tracks(request: ShopRequest, pk: int) -> HttpResponse:
    the_unit, form = _unit(request, pk), TracksForm(request.POST, request.FILES)
    sender = Sender.of(request)
    if form.is_valid() and sender.has_to_wait:
        form.add_error("tracks", WAIT)
    if form.is_valid():
        file = form.cleaned_data["tracks"]
        try:
            read = read_sent_tracks(file, name=file_name(file), now=timezone.now())
        except TracksWait as busy:
            form.add_error("tracks", str(busy))
        except GpxRefused as refused:
            sender.was_refused()
            form.add_error("tracks", str(refused))
        else:
            kept = keep_rides(unit=the_unit, rides=read.rides, by=request.user)
            say_what_was_kept(request, kept.added, kept.hours, kept.already_there, read.refused)
            return redirect("intervals:unit", pk)
    return _page(request, the_unit, tracks_form=form)


@require_POST
@counter_only
def service_elsewhere(request: ShopRequest, pk: int) -> HttpResponse:
    the_unit, form = _unit(request, pk), ServiceElsewhereForm(request.POST)
    if form.is_valid():
        try:
            note_service_elsewhere(unit=the_unit, by=request.user, **form.cleaned_data)
        except ValidationError as error:
            put_beside_fields(form, error)
        else:
            return _done(request, the_unit, "The service is noted.")
    return _page(request, the_unit, elsewhere_form=form)


@require_http_methods(["GET", "HEAD", "POST"])
@counter_only
def rule(request: ShopRequest, pk: int, level: str) -> HttpResponse:
    """The unit's own interval of one level; somebody quicker is shown, and what was typed stays."""
    if level not in Level.values:
        raise Http404
    the_unit = _unit(request, pk)
    stored = newest_rule(the_unit, level)
    initial: dict[str, Any] = {"seen_rule": stored.pk if stored else NO_RULE_YET}
    if stored:
        initial |= {"hours": stored.hours, "months": stored.months, "source": stored.source}
    form = RuleForm(request.POST or None, initial=initial)
    status = 200
    if request.method == "POST" and form.is_valid():
        try:
            set_rule(unit=the_unit, level=level, by=request.user, **form.cleaned_data)
        except StaleVersion:
            form = RuleForm({**request.POST.dict(), "seen_rule": initial["seen_rule"]})
            status = CHANGED_MEANWHILE
        except ValidationError as error:
            put_beside_fields(form, error)
        else:
            return _done(request, the_unit, f"The {Level(level).label.lower()} has its own interval.")
    if form.errors:
        status = REFUSED
    context = {
        "suspension": the_unit,  # not `unit`: that is the unit beside a form field
        "form": form,
        "level": Level(level),
        "stored": stored,
        "changed_meanwhile": status == CHANGED_MEANWHILE,
        "history": UnitRule.objects.filter(unit=the_unit, level=level)
        .select_related("set_by")
        .order_by("-pk")[:MOST_ROWS],
    }
    return render(request, "intervals/rule.html", context, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
@counter_only
def ticket_services(request: ShopRequest, number: int) -> HttpResponse:
    """Correct which services a ticket was."""
    ticket = ticket_of(request.shop, number)
    if ticket.state != Ticket.State.HANDED_BACK:
        messages.info(request, "Which services it was is settled when it is handed back.")
        return redirect("counter:ticket", number)
    done = list(ServiceDone.objects.filter(ticket=ticket))
    form = TicketServicesForm(request.POST or None, initial={"levels": [service.level for service in done]})
    if request.method == "POST" and form.is_valid():
        try:
            correct_services_done(ticket=ticket, levels=form.cleaned_data["levels"], by=request.user)
        except ValidationError as error:
            put_beside_fields(form, error)
        else:
            messages.success(request, "The services are corrected.")
            return redirect("counter:ticket", number)
    context = {"ticket": ticket, "form": form, "done": done}
    return render(request, "intervals/ticket_services.html", context, status=REFUSED if form.errors else 200)


def _page(request: ShopRequest, the_unit: SuspensionUnit, **forms: Any) -> HttpResponse:
    """Everything that the due dates of a unit rest on."""
    standing = standing_of(the_unit, timezone.localdate())
    since = max((service.on for service in standing.last_service.values()), default=timezone.localdate())
    owned_since = last_change_of_owner(the_unit)
    context = {
        "suspension": the_unit,  # not `unit`: that is the unit beside a form field
        "standing": standing,
        "figures": figures_of(request.shop),
        "weekly": WeeklyHours.objects.filter(unit=the_unit).select_related("by").order_by("-since")[:MOST_ROWS],
        "readings": CounterReading.objects.filter(unit=the_unit).select_related("by").order_by("-on")[:MOST_ROWS],
        "rides": Ride.objects.filter(unit=the_unit).order_by("-began_at")[:MOST_RIDES],
        "ride_count": Ride.objects.filter(unit=the_unit).count(),
        "weekly_form": WeeklyForm(initial={"since": max(since, owned_since) if owned_since else since}),
        "owned_since": owned_since,
        "counter_form": CounterForm(),
        "tracks_form": TracksForm(),
        "elsewhere_form": ServiceElsewhereForm(),
        **forms,
    }
    return render(request, "intervals/unit.html", context, status=REFUSED if forms else 200)


def _done(request: ShopRequest, the_unit: SuspensionUnit, said: str) -> HttpResponse:
    messages.success(request, said)
    return redirect("intervals:unit", the_unit.pk)


def _unit(request: ShopRequest, pk: int) -> SuspensionUnit:
    units = SuspensionUnit.objects.select_related("model", "customer", "shop")
    return get_object_or_404(units, pk=pk, shop=request.shop)
