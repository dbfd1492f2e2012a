"""A model's values on one page: typed down it, copied from a sister model; and a blank sheet to fill in elsewhere."""

from __future__ import annotations

from django.contrib import messages
from django.db.models import Exists, OuterRef, QuerySet
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods

from specs.entering import ValueSource
from specs.exporting import blank_csv
from specs.models import SpecValue, SuspensionModel
from specs.models.values import ALL_TRAVELS
from specs.one_page import PageRefused, PageSaved, save_page
from workshop.manuals.keeping import pages_kept
from workshop.office.specs_page_form import PageForm
from workshop.office.specs_pages import current_versions
from workshop.office.specs_views import posted, travel_asked
from workshop.staff.models import User
from workshop.staff.roles import Right
from workshop.web.converters import key_from
from workshop.web.framing import shows_frames
from workshop.web.requests import ShopRequest
from workshop.web.roles import with_right

MOST_SISTERS = 100


@shows_frames
@require_http_methods(["GET", "HEAD", "POST"])
@with_right(Right.ENTER_SPECS)
def page(request: ShopRequest, pk: int) -> HttpResponse:
    """Every value of a model. One press saves all rows or none; another fills blank rows from a sister model."""
    model = get_object_or_404(SuspensionModel, pk=pk)
    sent = posted(request)
    travel_mm = (key_from(sent.get("travel_mm")) or ALL_TRAVELS) if sent else travel_asked(request, model)
    form = PageForm(
        sent, model=model, travel_mm=travel_mm, shop=request.shop,
        current=current_versions(model), source=_last_source(model, request.user),
    )  # fmt: skip
    status = 200
    if sent is not None and "fill" in sent:
        _fill(request, form, model)
    elif sent is not None and form.is_valid():
        try:
            saved = save_page(model=model, travel_mm=travel_mm, rows=form.typed_rows(), entered_by=request.user)
        except PageRefused as refused:
            form.take_refusal(refused)
            status = 409 if refused.meanwhile else 422
        else:
            _say_what_was_saved(request, saved)
            return redirect("office:specs_model", pk)
    elif form.errors:
        status = 422
    context = {
        "form": form,
        "model": model,
        "travel_mm": travel_mm,
        "travels": [(ALL_TRAVELS, "Every travel"), *((travel, f"{travel} mm only") for travel in model.travels_mm)],
        "sisters": list(sisters_of(model)[:MOST_SISTERS]),
        "manual": pages_kept(request.shop, model),
    }
    return render(request, "office/specs/page.html", context, status=status)


@require_GET
@with_right(Right.ENTER_SPECS)
def blank(request: ShopRequest, pk: int) -> HttpResponse:
    """A sheet of what is missing, to be filled in elsewhere and imported."""
    model = get_object_or_404(SuspensionModel, pk=pk)
    return HttpResponse(
        blank_csv(model, request.shop.unit_for),
        content_type="text/csv; charset=utf-8",
        headers={"Content-Disposition": f'attachment; filename="missing-values-{model.pk}.csv"'},
    )


def sisters_of(model: SuspensionModel) -> QuerySet[SuspensionModel]:
    """Models of the same maker and kind that have values."""
    values = SpecValue.objects.filter(model=OuterRef("pk"), is_current=True, withdrawn=False)
    same = SuspensionModel.objects.filter(maker__iexact=model.maker, kind=model.kind).exclude(pk=model.pk)
    return same.filter(Exists(values))


def _fill(request: ShopRequest, form: PageForm, model: SuspensionModel) -> None:
    sister = sisters_of(model).filter(pk=key_from(request.POST.get("from")) or 0).first()
    if sister is None:
        messages.error(request, "Choose the model to copy from. What you typed is still here.")
        return
    theirs = SpecValue.objects.filter(model=sister, travel_mm=form.travel, is_current=True, withdrawn=False)
    filled = form.fill_from(theirs.select_related("model"))
    form.errors.clear()
    if filled:
        what = "1 blank is" if filled == 1 else f"{filled} blanks are"
        messages.info(request, f"{what} filled in from {sister}, each with its source there. Nothing is saved yet.")
    else:
        messages.info(request, f"{sister} has nothing for what is blank here.")


def _last_source(model: SuspensionModel, person: User) -> ValueSource:
    """The source this person last typed from for this model."""
    typed = SpecValue.objects.filter(
        model=model, entered_by=person, withdrawn=False, copied_from=None, taken_back_at=None
    )
    last = typed.order_by("-pk").first()
    return ValueSource("") if last is None else ValueSource(last.source_document, last.source_revision)


def _say_what_was_saved(request: ShopRequest, saved: PageSaved) -> None:
    if not saved:
        messages.info(request, "Nothing differs from what is stored.")
        return
    said = []
    if saved.waiting:
        many = "1 value is" if saved.waiting == 1 else f"{saved.waiting} values are"
        said.append(f"{many} saved. A second person has to compare each with its source.")
    if saved.copied:
        said.append(f"{len(saved.copied)} of them copied.")
    if saved.withdrawn:
        many = "1 value is" if len(saved.withdrawn) == 1 else f"{len(saved.withdrawn)} values are"
        said.append(f"{many} withdrawn and shown as missing from now on.")
    messages.success(request, " ".join(said))
