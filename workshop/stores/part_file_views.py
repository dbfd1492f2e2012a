"""Parts and stock as a file: export, dry run, import."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.http import content_disposition_header
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from specs.value_files import UnreadableFile
from workshop.office.specs_forms import ConfirmImportForm, ImportFileForm, confirmation_of
from workshop.stock.exporting import kits_csv, movements_csv, orders_csv
from workshop.stock.part_files import (
    CHANGED,
    COLUMNS,
    MOST_ROWS,
    NEW,
    REFUSED,
    REQUIRED_COLUMNS,
    UNCHANGED,
    PartPlanChanged,
    PartRowPlan,
    export_parts,
    import_parts,
    plan_parts,
)
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop, owner_only


class PartFileForm(ImportFileForm):
    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]
        self.fields["file"].help_text = f"CSV in the layout below, at most 512 KB and {MOST_ROWS} parts."


@require_GET
@anyone_in_the_shop
def files(request: ShopRequest) -> HttpResponse:
    return render(request, "stores/files.html")


@require_GET
@anyone_in_the_shop
def export(request: ShopRequest) -> HttpResponse:
    return _csv(export_parts(request.shop), "parts-and-stock.csv")


@require_GET
@anyone_in_the_shop
def export_movements(request: ShopRequest) -> HttpResponse:
    return _csv(movements_csv(request.shop), "movements.csv")


@require_GET
@anyone_in_the_shop
def export_orders(request: ShopRequest) -> HttpResponse:
    return _csv(orders_csv(request.shop), "orders.csv")


@require_GET
@anyone_in_the_shop
def export_kits(request: ShopRequest) -> HttpResponse:
    return _csv(kits_csv(), "kits.csv")


def _csv(content: bytes, name: str) -> HttpResponse:
    headers = {"Content-Disposition": content_disposition_header(True, name) or ""}
    return HttpResponse(content, content_type="text/csv; charset=utf-8", headers=headers)


@require_http_methods(["GET", "HEAD", "POST"])
@owner_only
def import_file(request: ShopRequest) -> HttpResponse:
    """The form, and the dry run of the file that is sent."""
    form = PartFileForm(request.POST, request.FILES) if request.method == "POST" else PartFileForm()
    if request.method == "POST" and form.is_valid():
        content: bytes = form.cleaned_data["file"]
        try:
            plan = plan_parts(shop=request.shop, content=content, by=request.user)
        except UnreadableFile as error:
            form.add_error("file", str(error))
        else:
            return _dry_run(request, plan, content)
    return _form(request, form)


@require_POST
@owner_only
def confirm(request: ShopRequest) -> HttpResponse:
    """Import what the dry run showed, or show a new one where that is not what would happen now."""
    form = ConfirmImportForm(request.POST)
    if not form.is_valid():
        return _form(request, PartFileForm(), "The file did not arrive whole. Choose it again.")
    content: bytes = form.cleaned_data["content"]
    with_counts = request.POST.get("counts") == "yes"
    try:
        plan = import_parts(
            shop=request.shop,
            content=content,
            digest=form.cleaned_data["digest"],
            by=request.user,
            with_counts=with_counts,
        )
    except PartPlanChanged as changed:
        return _dry_run(request, changed.plan, content, changed=True)
    except UnreadableFile as error:
        return _form(request, PartFileForm(), str(error))
    said = f"{plan.to_write} part{'s are' if plan.to_write != 1 else ' is'} imported."
    if plan.counts:
        counts = f"{len(plan.counts)} count{'s' if len(plan.counts) != 1 else ''}"
        said += f" {counts} booked." if with_counts else f" {counts} of the file left out; no stock moved."
    messages.success(request, said)
    return redirect("stores:stock")


def _form(request: ShopRequest, form: PartFileForm, problem: str = "") -> HttpResponse:
    columns = [(column, column in REQUIRED_COLUMNS) for column in COLUMNS]
    context = {"form": form, "problem": problem, "columns": columns}
    return render(request, "stores/import.html", context, status=422 if problem or form.errors else 200)


def _dry_run(request: ShopRequest, plan: PartRowPlan, content: bytes, *, changed: bool = False) -> HttpResponse:
    context = {
        "plan": plan,
        "counts": {fate: plan.count(fate) for fate in (NEW, CHANGED, UNCHANGED, REFUSED)},
        "confirmation": confirmation_of(content, plan.digest) if plan.to_write or plan.counts else None,
        "changed": changed,
    }
    return render(request, "stores/dry_run.html", context, status=409 if changed else 200)
