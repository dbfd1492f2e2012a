"""Importing spec values: choose a file, see what would become of each row, say yes."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from specs.importing import Fate, ImportPlan, PlanChanged, RowFate, carry_out, plan_import
from specs.lookup import written
from specs.models import SpecValue
from specs.quantities import QUANTITIES
from specs.value_files import COLUMNS, JSON_LAYOUT, REQUIRED_COLUMNS, UnreadableFile
from workshop.office.specs_forms import ConfirmImportForm, ImportFileForm, confirmation_of
from workshop.office.specs_views import posted
from workshop.staff.models import Shop
from workshop.web.requests import ShopRequest
from workshop.web.roles import owner_only


@require_http_methods(["GET", "HEAD", "POST"])
@owner_only
def import_file(request: ShopRequest) -> HttpResponse:
    """The form, and the dry run of the file that is sent. Nothing is written."""
    form = ImportFileForm(posted(request), request.FILES if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        content: bytes = form.cleaned_data["file"]
        try:
            plan = plan_import(content)
        except UnreadableFile as error:
            form.add_error("file", str(error))
        else:
            return _dry_run(request, plan, content)
    return _file_form(request, form)


@require_POST
@owner_only
def confirm_import(request: ShopRequest) -> HttpResponse:
    """Import what the dry run showed, or show a new dry run if that is not what would happen now."""
    form = ConfirmImportForm(request.POST)
    if not form.is_valid():
        return _file_form(request, ImportFileForm(), "The file did not arrive whole. Choose it again.")
    content: bytes = form.cleaned_data["content"]
    try:
        plan = carry_out(content=content, digest=form.cleaned_data["digest"], entered_by=request.user)
    except PlanChanged as changed:
        return _dry_run(request, changed.plan, content, changed=True)
    except UnreadableFile as error:
        return _file_form(request, ImportFileForm(), str(error))
    count = len(plan.to_write)
    messages.success(request, f"{count} value{'s are' if count != 1 else ' is'} imported and waiting to be checked.")
    return redirect("office:specs_unchecked")


def _file_form(request: ShopRequest, form: ImportFileForm, problem: str = "") -> HttpResponse:
    context = {
        "form": form,
        "problem": problem,
        "columns": [(column, column in REQUIRED_COLUMNS) for column in COLUMNS],
        "quantities": QUANTITIES.values(),
        "json_layout": JSON_LAYOUT,
    }
    status = 422 if problem or form.errors else 200
    return render(request, "office/specs/import.html", context, status=status)


def _dry_run(request: ShopRequest, plan: ImportPlan, content: bytes, *, changed: bool = False) -> HttpResponse:
    context = {
        "to_write": len(plan.to_write),
        "counts": {fate.name.lower(): plan.count(fate) for fate in Fate},
        "lines": [_line(row, request.shop) for row in plan.rows],
        "confirmation": confirmation_of(content, plan.digest) if plan.to_write else None,
        "changed": changed,
    }
    return render(request, "office/specs/dry_run.html", context, status=409 if changed else 200)


def _line(row: RowFate, shop: Shop) -> dict[str, object]:
    return {"row": row, "now": _in_words(row.version, shop), "before": _in_words(row.stored, shop)}


def _in_words(value: SpecValue | None, shop: Shop) -> str:
    return "" if value is None else written(QUANTITIES[value.quantity], value, shop.unit_for).text
