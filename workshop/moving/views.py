"""A sheet: brought in, matched, looked at, imported, stopped and taken back; each step a short request."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any

from django.contrib import messages
from django.core.files.uploadedfile import UploadedFile
from django.core.paginator import Paginator
from django.db.models import Case, Q, When
from django.http import Http404, HttpResponse, StreamingHttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_GET, require_http_methods, require_POST
from django_htmx.http import HttpResponseClientRefresh

from specs.value_files import UnreadableFile, safe_cell
from workshop.moving.forms import MatchingForm, SheetForm
from workshop.moving.kinds import KINDS
from workshop.moving.out import everything
from workshop.sheets.kind import SheetKind
from workshop.sheets.models import Sheet, SheetRow
from workshop.sheets.steps import (
    MOST_SAID_AT_ONCE,
    TAKEN_BACK_WITHIN,
    MatchingRefused,
    SheetNotReady,
    begin_import,
    begin_taking_back,
    bring_in,
    fates_of,
    go_on,
    match_anew,
    match_columns,
    say_of_held,
    stop_sheet,
    throw_away,
)
from workshop.staff.security_log import Did, note_by
from workshop.web.confirmed import confirmed_first
from workshop.web.converters import key_from
from workshop.web.csv_files import as_csv
from workshop.web.requests import ShopRequest
from workshop.web.roles import owner_only

ROWS_A_PAGE = 50
MOST_COUNTS = 20
LAST_SHEETS = 10
_WORDS = {
    "refused": "Refused", "twice": "Same as a row before", "left_out": "Left out", "stays": "Stay", "new": "New",
    "changed": "Changed", "unchanged": "Unchanged",
}  # fmt: skip
_SHOWN = {value: {"fate": value} for value in SheetRow.Fate.values} | {
    value: {"outcome": value} for value in SheetRow.Outcome.values if value
}


@require_GET
@owner_only
def moving(request: ShopRequest) -> HttpResponse:
    """What can be brought in, what was, and everything to take away."""
    sheets = Sheet.objects.filter(shop=request.shop).select_related("by")[:LAST_SHEETS]
    return render(request, "moving/moving.html", {"kinds": KINDS.values(), "sheets": _with_titles(sheets)})


@require_http_methods(["GET", "HEAD", "POST"])
@owner_only
def move_in(request: ShopRequest, kind: str) -> HttpResponse:
    """The form, the sheets brought in last, and a new one; its rows are looked at on its own page."""
    chosen = _kind(kind)
    is_sent = request.method == "POST"
    form = SheetForm(request.POST, request.FILES, kind=chosen) if is_sent else SheetForm(kind=chosen)
    if is_sent and form.is_valid():
        file: UploadedFile[bytes] = form.cleaned_data["file"]
        try:
            made = bring_in(
                shop=request.shop, kind=chosen, name=file.name or "Sheet", content=file.read(), by=request.user
            )
        except UnreadableFile as error:
            form.add_error("file", str(error))
        else:
            return redirect("office:sheet", made.pk)
    sheets = Sheet.objects.filter(shop=request.shop, kind=chosen.key).select_related("by")[:LAST_SHEETS]
    context = {"form": form, "kind": chosen, "sheets": _with_titles(sheets)}
    return render(request, "moving/move_in.html", context, status=422 if form.errors else 200)


@require_GET
@owner_only
def sample(request: ShopRequest, kind: str) -> HttpResponse:
    """A file of one invented row in the layout."""
    chosen = _kind(kind)
    cells = [[column.name for column in chosen.columns], [safe_cell(column.sample) for column in chosen.columns]]
    headers = {"Content-Disposition": content_disposition_header(True, f"sample-{chosen.key}.csv") or ""}
    return HttpResponse(as_csv(cells), content_type="text/csv; charset=utf-8", headers=headers)


@require_GET
@owner_only
@confirmed_first(back="office:moving")
def move_out(request: ShopRequest) -> HttpResponse:
    """Everything the shop holds, as CSV in one zip file."""
    note_by(request, Did.TOOK_EVERYTHING)
    name = f"everything-{timezone.localdate().isoformat()}.zip"
    headers = {"Content-Disposition": content_disposition_header(True, name) or ""}
    pieces = everything(request.shop)
    return StreamingHttpResponse(pieces, content_type="application/zip", headers=headers)  # type: ignore[return-value]


@require_GET
@owner_only
def sheet(request: ShopRequest, pk: int) -> HttpResponse:
    """How far it is, what its rows do, and what can be done with it."""
    return _show(request, _sheet(request, pk))


@require_POST
@owner_only
def match(request: ShopRequest, pk: int) -> HttpResponse:
    """Which column is which; then the rows are looked at."""
    asked = _sheet(request, pk)
    kind = _kind(asked.kind)
    form = MatchingForm(request.POST, sheet=asked, kind=kind)
    if form.is_valid():
        try:
            match_columns(
                shop=request.shop,
                kind=kind,
                pk=pk,
                matching=form.matching,
                decimal_sign=form.decimal_sign,
            )
        except MatchingRefused as refused:
            form.add_error(None, str(refused))
        except SheetNotReady as refused:
            return _show(request, _sheet(request, pk), str(refused))
        else:
            return redirect("office:sheet", pk)
    return render(request, "moving/match.html", {"sheet": asked, "kind": kind, "form": form}, status=422)


@require_POST
@owner_only
def anew(request: ShopRequest, pk: int) -> HttpResponse:
    return _asked(request, pk, lambda kind: match_anew(shop=request.shop, kind=kind, pk=pk))


@require_POST
@owner_only
def held(request: ShopRequest, pk: int) -> HttpResponse:
    """Rows that seem to be the same as one before: whether they are others, which come in, or are left out."""
    are_others = request.POST.get("others") == "yes"
    if request.POST.get("all") == "yes":
        asked_of = _sheet(request, pk).rows.filter(fate=SheetRow.Fate.TWICE)
        rows = list(asked_of.values_list("pk", flat=True)[:MOST_SAID_AT_ONCE])
    else:
        rows = [key for key in map(key_from, request.POST.getlist("row")) if key]
    return _asked(
        request,
        pk,
        lambda kind: say_of_held(
            shop=request.shop, kind=kind, pk=pk, rows=rows, are_others=are_others, by=request.user
        ),
    )


@require_POST
@owner_only
def one_step(request: ShopRequest, pk: int) -> HttpResponse:
    """The next rows; the page asks again by itself while there are more, and is drawn anew at the end of a pass."""
    kind = _kind(_sheet(request, pk).kind)
    handled = request.POST.get("handled", "")
    seen = (request.POST.get("state", ""), int(handled) if handled.isdecimal() and len(handled) < 10 else -1)
    now = go_on(shop=request.shop, kind=kind, pk=pk, seen=seen, by=request.user)
    if not request.htmx:
        return redirect("office:sheet", pk)
    if not now.is_running:
        return HttpResponseClientRefresh()
    return render(request, "moving/_progress.html", {"sheet": now})


@require_POST
@owner_only
def begin(request: ShopRequest, pk: int) -> HttpResponse:
    with_counts = request.POST.get("counts") == "yes"
    return _asked(
        request,
        pk,
        lambda kind: begin_import(shop=request.shop, kind=kind, pk=pk, by=request.user, with_counts=with_counts),
    )


@require_POST
@owner_only
def stop_here(request: ShopRequest, pk: int) -> HttpResponse:
    return _asked(request, pk, lambda kind: stop_sheet(shop=request.shop, kind=kind, pk=pk))


@require_POST
@owner_only
def take_back(request: ShopRequest, pk: int) -> HttpResponse:
    return _asked(request, pk, lambda kind: begin_taking_back(shop=request.shop, kind=kind, pk=pk))


@require_POST
@owner_only
def drop(request: ShopRequest, pk: int) -> HttpResponse:
    """A sheet of which nothing was imported; one that is gone already was dropped a moment ago."""
    asked = Sheet.objects.filter(shop=request.shop, pk=pk).first()
    if asked is None:
        return redirect("office:moving")
    try:
        throw_away(shop=request.shop, kind=_kind(asked.kind), pk=pk)
    except SheetNotReady as refused:
        return _show(request, _sheet(request, pk), str(refused))
    messages.success(request, "The sheet is discarded. Nothing of it was imported.")
    return redirect("office:move_in", asked.kind)


def _asked(request: ShopRequest, pk: int, act: Callable[[SheetKind], object]) -> HttpResponse:
    asked = _sheet(request, pk)
    try:
        act(_kind(asked.kind))
    except SheetNotReady as refused:
        return _show(request, asked, str(refused))
    return redirect("office:sheet", pk)


def _kind(key: str) -> SheetKind:
    if key not in KINDS:
        raise Http404
    return KINDS[key]


def _sheet(request: ShopRequest, pk: int) -> Sheet:
    return get_object_or_404(Sheet, shop=request.shop, pk=pk, kind__in=KINDS)


def _with_titles(sheets: Iterable[Sheet]) -> list[tuple[str, Sheet]]:
    return [(KINDS[one.kind].title if one.kind in KINDS else one.kind, one) for one in sheets]


def _show(request: ShopRequest, shown: Sheet, refused: str = "") -> HttpResponse:
    kind = _kind(shown.kind)
    if shown.state == Sheet.State.MATCHING and not refused:
        return render(
            request,
            "moving/match.html",
            {"sheet": shown, "kind": kind, "form": MatchingForm(sheet=shown, kind=kind)},
        )
    only = request.GET.get("rows", "")
    counts = fates_of(shown)
    context: dict[str, Any] = {
        "sheet": shown,
        "kind": kind,
        "may_match": not shown.is_running and shown.state == Sheet.State.LOOKED and shown.chunks.exists(),
        "counts": counts,
        "refused": refused,
        "to_write": counts["new"] + counts["changed"],
        "only": only if only in _SHOWN else "",
        "most_counts": MOST_COUNTS,
        "most_held": MOST_SAID_AT_ONCE,
        "shown_choices": [(value, words) for value, words in _WORDS.items() if counts[value]],
        "back_until": shown.imported_at + TAKEN_BACK_WITHIN if shown.imported_at else None,
    }
    context["may_take_back"] = bool(
        shown.may_be_taken_back and context["back_until"] and context["back_until"] > timezone.now()
    )
    if not shown.is_running:
        rows = shown.rows.filter(**_SHOWN.get(only, {})) if only in _SHOWN else shown.rows.exclude(fate="unchanged")
        first = Case(
            When(Q(fate="refused") | Q(outcome__in=["left_out", "stays"]), then=0),
            When(fate="twice", then=1),
            default=2,
        )
        page = Paginator(rows.order_by(first, "position"), ROWS_A_PAGE).get_page(request.GET.get("page"))
        for row in page:
            row.known_by = kind.known_by(row.cells)  # type: ignore[attr-defined]
        context["page"] = page
        context["counted_rows"] = shown.rows.filter(counts=True)[:MOST_COUNTS] if shown.state == "looked" else []
    return render(request, "moving/sheet.html", context, status=409 if refused else 200)
