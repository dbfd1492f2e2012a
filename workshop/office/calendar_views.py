"""The calendars of the mechanics and the public holidays of the bench, set by the owner."""

from __future__ import annotations

import datetime as dt

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from workshop.counter.saving import REFUSED, edit_page, put_beside_fields, seen_version
from workshop.office.calendar_forms import AbsenceForm, HolidaysForm, WeekForm
from workshop.promise.capacity import capacity_of
from workshop.promise.closed import open_day, set_holidays, subdivisions
from workshop.promise.honest import PromiseInDanger, promises_in_danger
from workshop.promise.models import Absence
from workshop.promise.people import add_absence, go_back_to_usual_hours, set_week, week_of
from workshop.staff.models import User
from workshop.tickets.models import Ticket
from workshop.web.day_words import day_in_words
from workshop.web.once import sent_once
from workshop.web.requests import ShopRequest
from workshop.web.roles import owner_only
from workshop.web.versions import StaleVersion

MOST_NAMED = 6
MOST_PAST = 12


@require_http_methods(["GET", "HEAD", "POST"])
@owner_only
def calendar(request: ShopRequest, pk: int) -> HttpResponse:
    """The hours of a mechanic's week, and when he is away."""
    mechanic = _mechanic(request, pk)
    week = week_of(mechanic)
    form = WeekForm(request.POST) if request.method == "POST" else WeekForm.of(week)
    return edit_page(
        request,
        template="office/calendar.html",
        form=form,
        version=week.version,
        save=lambda seen: set_week(mechanic=mechanic, seen_version=seen, hours=form.hours),
        form_of=WeekForm.of,
        done_url=reverse("office:calendar", args=[pk]),
        said=f"The hours of {mechanic} are saved. Promises use them from now on.",
        context=_shown(mechanic, AbsenceForm()),
    )


@require_POST
@owner_only
@sent_once
def away(request: ShopRequest, pk: int) -> HttpResponse:
    """Enter an absence, and say which promises do not hold any more because of it."""
    mechanic = _mechanic(request, pk)
    form = AbsenceForm(request.POST)
    if form.is_valid():
        before = promises_in_danger(request.shop, timezone.localdate())
        try:
            add_absence(mechanic=mechanic, by=request.user, **form.cleaned_data)
        except ValidationError as refused:
            put_beside_fields(form, refused)
        else:
            messages.success(request, f"{mechanic} is away on those days.")
            _say_what_fell(request, before)
            return redirect("office:calendar", pk)
    week = week_of(mechanic)
    context = {"form": WeekForm.of(week), "seen_version": week.version, **_shown(mechanic, form)}
    return render(request, "office/calendar.html", context, status=REFUSED)


@require_POST
@owner_only
def back(request: ShopRequest, pk: int) -> HttpResponse:
    """Take an absence out again; pressed twice nothing more happens."""
    absence = Absence.objects.filter(mechanic__shop=request.shop, pk=pk).select_related("mechanic").first()
    if absence is None:
        messages.info(request, "That absence is out already.")
        return redirect("office:hours")
    absence.delete()
    messages.success(request, f"{absence.mechanic} is there on those days.")
    return redirect("office:calendar", absence.mechanic_id)


@require_POST
@owner_only
def usual(request: ShopRequest, pk: int) -> HttpResponse:
    """A mechanic works the hours of the bench again."""
    mechanic = _mechanic(request, pk)
    try:
        go_back_to_usual_hours(mechanic=mechanic, seen_version=seen_version(request))
    except StaleVersion:
        messages.error(request, f"Somebody changed the hours of {mechanic} meanwhile. Look at them again first.")
    else:
        messages.success(request, f"{mechanic} counts with the hours of the bench.")
    return redirect("office:calendar", pk)


@require_POST
@owner_only
def public_holidays(request: ShopRequest) -> HttpResponse:
    """Choose the country and its part. Another country begins without a part."""
    capacity = capacity_of(request.shop)
    country = request.POST.get("country", "")
    same = country == capacity.holiday_country
    sent = {"country": country, "subdivision": request.POST.get("subdivision", "") if same else ""}
    form = HolidaysForm(sent, country=country)
    if form.is_valid():
        subdivision = form.cleaned_data.get("subdivision", "")
        try:
            set_holidays(
                shop=request.shop, seen_version=seen_version(request), country=country, subdivision=subdivision
            )
        except StaleVersion:
            messages.error(request, "Somebody changed the bench’s hours meanwhile. Look at them again first.")
        except ValidationError as refused:
            messages.error(request, " ".join(refused.messages))
        else:
            asks = bool(subdivisions(country)) and not same
            more = " Choose the part of the country too, where its holidays differ." if asks else ""
            messages.success(
                request, f"The bench rests on these public holidays.{more}" if country else "None are kept."
            )
    else:
        messages.error(request, "Choose a country, and a part of it, from the lists.")
    return redirect("office:hours")


@require_POST
@owner_only
def open_on(request: ShopRequest) -> HttpResponse:
    """The bench works on a day on which it was closed."""
    try:
        day = dt.date.fromisoformat(request.POST.get("day", ""))
    except ValueError:
        messages.error(request, "There is no such day.")
    else:
        open_day(shop=request.shop, day=day)
        messages.success(request, "The bench is open on that day.")
    return redirect("office:hours")


def _mechanic(request: ShopRequest, pk: int) -> User:
    return get_object_or_404(User, pk=pk, shop=request.shop)


def _shown(mechanic: User, form: AbsenceForm) -> dict[str, object]:
    today = timezone.localdate()
    absences = Absence.objects.filter(mechanic=mechanic)
    return {
        "mechanic": mechanic,
        "absence_form": form,
        "absences": absences.filter(last__gte=today),
        "past_absences": absences.filter(last__lt=today).order_by("-first")[:MOST_PAST],
        "has_week": hasattr(mechanic, "bench_week"),
    }


def _say_what_fell(request: ShopRequest, before: list[PromiseInDanger]) -> None:
    known = {danger.ticket_pk: danger.day for danger in before}
    after = promises_in_danger(request.shop, timezone.localdate())
    fell = [danger for danger in after if danger.day > known.get(danger.ticket_pk, dt.date.min)]
    if not fell:
        return
    promised = Ticket.objects.in_bulk([danger.ticket_pk for danger in fell])
    told = [
        f"ticket {one.number}, promised for {day_in_words(one.promised_on)}, "
        f"would be done on {day_in_words(danger.day)}"
        for danger in fell[:MOST_NAMED]
        if (one := promised[danger.ticket_pk])
    ]
    more = f"; and {len(fell) - MOST_NAMED} more" if len(fell) > MOST_NAMED else ""
    messages.warning(request, f"Promises that do not hold any more: {'; '.join(told)}{more}.")
