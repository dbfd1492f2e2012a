"""The day's takings, page by page: by kind of payment, the drawer counted, and the month for the bookkeeper."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_GET, require_POST

from workshop.counter.saving import CHANGED_MEANWHILE, REFUSED, put_beside_fields
from workshop.counter.till_forms import DrawerForm, MonthForm
from workshop.staff.roles import Right
from workshop.till.books import rates_csv, receipts_csv
from workshop.till.takings import CountedMeanwhile, Takings, count_drawer, takings_of
from workshop.web.converters import key_from
from workshop.web.days import EARLIEST
from workshop.web.number_words import plain_money
from workshop.web.requests import ShopRequest
from workshop.web.roles import corrects_takings, money_only, owner_only


@require_GET
@money_only
def takings(request: ShopRequest) -> HttpResponse:
    """A day, `?day=`; today without one."""
    return _page(request, takings_of(request.shop, _day(request)))


@require_POST
@corrects_takings
def count(request: ShopRequest) -> HttpResponse:
    """The drawer as it was counted, of `?day=`."""
    day = _day(request)
    form = DrawerForm(request.POST, shop=request.shop)
    if form.is_valid():
        try:
            count_drawer(
                shop=request.shop,
                day=day,
                seen_cash=_seen_cash(request),
                seen_count=key_from(request.POST.get("seen_count")) or 0,
                by=request.user,
                **form.cleaned_data,
            )
        except CountedMeanwhile as changed:
            return _page(request, takings_of(request.shop, day), CHANGED_MEANWHILE, form=form, conflict=str(changed))
        except ValidationError as refused:
            put_beside_fields(form, refused)
        else:
            messages.success(request, "The drawer is counted and the day is kept.")
            return redirect(f"{reverse('counter:takings')}?day={day.isoformat()}")
    return _page(request, takings_of(request.shop, day), REFUSED, form=form)


@require_GET
@owner_only
def books(request: ShopRequest, what: str) -> HttpResponse:
    """A month as CSV: `receipts`, or `rates`, which is the month by tax rate."""
    made = {"receipts": receipts_csv, "rates": rates_csv}.get(what)
    if made is None:
        raise Http404
    form = MonthForm(request.GET or {"month": f"{timezone.localdate():%Y-%m}"})
    if not form.is_valid():
        return _page(request, takings_of(request.shop, timezone.localdate()), REFUSED, month_form=form)
    month: dt.date = form.cleaned_data["month"]
    headers = {"Content-Disposition": content_disposition_header(True, f"{what}-{month:%Y-%m}.csv")}
    return HttpResponse(made(request.shop, month), content_type="text/csv; charset=utf-8", headers=headers)


def _day(request: ShopRequest) -> dt.date:
    """The day asked for, none later than today."""
    today = timezone.localdate()
    try:
        asked = dt.date.fromisoformat(request.GET.get("day", ""))
    except ValueError:
        return today
    return min(max(asked, EARLIEST), today)


def _seen_cash(request: ShopRequest) -> Decimal | None:
    try:
        return Decimal(request.POST.get("seen_cash", ""))
    except ArithmeticError:
        return None


def _page(request: ShopRequest, takings: Takings, status: int = 200, **refused: Any) -> HttpResponse:
    today = timezone.localdate()
    context = {
        "takings": takings,
        "today": today,
        "before": takings.day - dt.timedelta(days=1),
        "after": takings.day + dt.timedelta(days=1) if takings.day < today else None,
        "may_count": request.user.may(Right.CORRECT_TAKINGS),
        "may_export": request.user.may(Right.RUN_THE_SHOP),
        "form": DrawerForm(shop=request.shop, initial={"opening": plain_money(takings.opening)}),
        "month_form": MonthForm(initial={"month": takings.day.replace(day=1)}),
        **refused,
    }
    return render(request, "counter/takings.html", context, status=status)
