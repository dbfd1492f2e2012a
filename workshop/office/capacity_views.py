"""The bench's hours and the days it rests, set by the owner."""

from __future__ import annotations

import datetime as dt

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from workshop.counter.saving import edit_page, put_beside_fields
from workshop.office.calendar_forms import HolidaysForm
from workshop.office.capacity_forms import CapacityForm, ClosedDayForm
from workshop.promise.capacity import capacity_of, set_capacity
from workshop.promise.closed import close_day, days_off
from workshop.promise.models import WEEKDAYS, BenchCapacity
from workshop.promise.people import bench_staff
from workshop.web.requests import ShopRequest
from workshop.web.roles import owner_only

REFUSED = 422
DAYS_CLOSED_AHEAD = 3 * 366
HOLIDAYS_SHOWN = 366


@require_http_methods(["GET", "HEAD", "POST"])
@owner_only
def hours(request: ShopRequest) -> HttpResponse:
    capacity = capacity_of(request.shop)
    form = CapacityForm(request.POST) if request.method == "POST" else CapacityForm.of(capacity)
    return edit_page(
        request,
        template="office/hours.html",
        form=form,
        version=capacity.version,
        save=lambda seen: set_capacity(shop=request.shop, seen_version=seen, **form.cleaned_data),
        form_of=CapacityForm.of,
        done_url=reverse("office:hours"),
        said="The capacity is saved. Promises use it from now on.",
        context=_closed(request, ClosedDayForm(), capacity),
    )


@require_POST
@owner_only
def close(request: ShopRequest) -> HttpResponse:
    form = ClosedDayForm(request.POST)
    if form.is_valid():
        try:
            close_day(shop=request.shop, **form.cleaned_data)
        except ValidationError as refused:
            put_beside_fields(form, refused)
        else:
            messages.success(request, "The bench rests on that day.")
            return redirect("office:hours")
    capacity = capacity_of(request.shop)
    context = {"form": CapacityForm.of(capacity), "seen_version": capacity.version, **_closed(request, form, capacity)}
    return render(request, "office/hours.html", context, status=REFUSED)


def _closed(request: ShopRequest, form: ClosedDayForm, capacity: BenchCapacity) -> dict[str, object]:
    today = timezone.localdate()
    ahead = days_off(capacity, today, today + dt.timedelta(days=DAYS_CLOSED_AHEAD))
    shown = today + dt.timedelta(days=HOLIDAYS_SHOWN)
    rows = [(one, one.bench_week if hasattr(one, "bench_week") else None) for one in bench_staff(request.shop.pk)]
    return {
        "closed_days": [one for one in ahead if one.day <= shown or not one.is_public or one.is_open],
        "closed_form": form,
        "holidays_form": HolidaysForm.of(capacity),
        "holidays_version": capacity.version,
        "people": rows,
        "weekdays": [words for _, words in WEEKDAYS],
        "has_weeks": any(week for _, week in rows),
    }
