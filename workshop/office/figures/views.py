"""Office, Figures: all of them at a glance, one with its tables, the tickets behind a count, and the CSV."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlencode

from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_GET

from workshop.office.figures.forms import PeriodForm
from workshop.office.figures.period import Period, last_months
from workshop.office.figures.presets import presets
from workshop.office.figures.registry import FIGURES, FigureAsked, FigureKind
from workshop.office.figures.sheet import figure_csv
from workshop.tickets.models import Ticket
from workshop.web.converters import key_from
from workshop.web.requests import ShopRequest
from workshop.web.roles import owner_only

REFUSED = 422
TICKETS_PER_PAGE = 50


@require_GET
@owner_only
def all_figures(request: ShopRequest) -> HttpResponse:
    """Each figure with its question, and its answer and small drawing: at once where they are quickly had, else as soon
    as its card is seen.
    """
    period, form = _period(request)
    asked = FigureAsked(request.shop, period)
    tiles = [(kind, kind.make(asked) if kind.is_quick else None) for kind in FIGURES.values()]
    context = {"tiles": tiles, **_chooser(period, form)}
    return render(request, "office/figures/all.html", context, status=REFUSED if form.errors else 200)


@require_GET
@owner_only
def figure(request: ShopRequest, key: str) -> HttpResponse:
    kind = _kind(key)
    period, form = _period(request, kind.usual_months)
    context = {"kind": kind, "figure": kind.make(FigureAsked(request.shop, period)), **_chooser(period, form)}
    return render(request, "office/figures/figure.html", context, status=REFUSED if form.errors else 200)


@require_GET
@owner_only
def small(request: ShopRequest, key: str) -> HttpResponse:
    """The answer of a figure and its small drawing, for its card, of the days that the page of all figures is of."""
    kind = _kind(key)
    period, _ = _period(request)
    context = {"kind": kind, "figure": kind.make(FigureAsked(request.shop, period))}
    return render(request, "office/figures/_small.html", context)


@require_GET
@owner_only
def tickets(request: ShopRequest, key: str) -> HttpResponse:
    """The tickets that one count of a table counts: the same ones, because the table is made anew to find them."""
    kind = _kind(key)
    period, form = _period(request, kind.usual_months)
    section = kind.make(FigureAsked(request.shop, period)).section(request.GET.get("table", ""))
    place = key_from(request.GET.get("column"))
    row = request.GET.get("row", "")
    behind = section.tickets(row, place) if section and place is not None else None
    if section is None or place is None or behind is None:
        raise Http404
    rows = Ticket.objects.of_shop(request.shop).with_names().filter(pk__in=behind.pks).order_by("-number")
    context = {
        "kind": kind,
        "section": section,
        "row_words": next(str(one.values[0]) for one in section.rows if one.key == row),
        "column": section.columns[place],
        "page": Paginator(rows, TICKETS_PER_PAGE).get_page(request.GET.get("page")),
        **_chooser(period, form),
    }
    return render(request, "office/figures/tickets.html", context)


@require_GET
@owner_only
def download(request: ShopRequest, key: str) -> HttpResponse:
    """The tables of a figure as CSV; the page with its reasons where the period cannot be read."""
    kind = _kind(key)
    period, form = _period(request, kind.usual_months)
    if form.errors:
        return figure(request, key)
    content = figure_csv(kind.make(FigureAsked(request.shop, period)).sections)
    days = f"{period.first.isoformat()}-to-{period.last.isoformat()}" if kind.has_period else f"{timezone.localdate()}"
    headers = {"Content-Disposition": content_disposition_header(True, f"{kind.key}-{days}.csv") or ""}
    return HttpResponse(content, content_type="text/csv; charset=utf-8", headers=headers)


def _kind(key: str) -> FigureKind:
    if key not in FIGURES:
        raise Http404
    return FIGURES[key]


def _period(request: ShopRequest, usual_months: int = 12) -> tuple[Period, PeriodForm]:
    """The period asked for; the usual last months where none was, or where it cannot be read."""
    usual = last_months(timezone.localdate(), usual_months)
    if "first" not in request.GET and "last" not in request.GET:
        return usual, PeriodForm(initial={"first": usual.first, "last": usual.last})
    form = PeriodForm(request.GET)
    return (form.period if form.is_valid() else usual), form


def _chooser(period: Period, form: PeriodForm) -> dict[str, Any]:
    days = {"first": period.first.isoformat(), "last": period.last.isoformat()}
    return {"period": period, "form": form, "days": urlencode(days), "presets": presets(timezone.localdate(), period)}
