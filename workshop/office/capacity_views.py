"""The bench's hours and the days it rests, set by the owner."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from workshop.counter.saving import edit_page, put_beside_fields
from workshop.office.capacity_forms import CapacityForm, ClosedDayForm
from workshop.promise.capacity import capacity_of, close_day, set_capacity
from workshop.promise.models import ClosedDay
from workshop.web.requests import ShopRequest
from workshop.web.roles import owner_only

REFUSED = 422


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
        said="The bench's hours are saved. Promises are reckoned with them from now on.",
        context=_closed(request, ClosedDayForm()),
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
    context = {"form": CapacityForm.of(capacity), "seen_version": capacity.version, **_closed(request, form)}
    return render(request, "office/hours.html", context, status=REFUSED)


@require_POST
@owner_only
def reopen(request: ShopRequest, pk: int) -> HttpResponse:
    ClosedDay.objects.filter(shop=request.shop, pk=pk).delete()
    messages.success(request, "The bench is open on that day.")
    return redirect("office:hours")


def _closed(request: ShopRequest, form: ClosedDayForm) -> dict[str, object]:
    days = ClosedDay.objects.filter(shop=request.shop, day__gte=timezone.localdate())
    return {"closed_days": days, "closed_form": form}
