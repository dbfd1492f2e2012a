"""Reading the specs, and checking them: models, values, versions, what nobody has checked, export."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.views.decorators.http import require_GET, require_POST

from specs.entering import CheckRefused, check_value
from specs.exporting import export_csv, exported_values
from specs.lookup import written
from specs.models import SpecValue, SuspensionModel
from specs.models.values import ALL_TRAVELS
from specs.quantities import QUANTITIES, Quantity
from workshop.manuals.keeping import pages_kept
from workshop.office import specs_pages as pages
from workshop.office.specs_forms import WithdrawForm
from workshop.staff.models import User
from workshop.staff.roles import Right
from workshop.web.converters import key_from
from workshop.web.framing import shows_frames
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop, with_password, with_right


def quantity_or_404(key: str) -> Quantity:
    """A quantity by its key in the address."""
    if key not in QUANTITIES:
        raise Http404
    return QUANTITIES[key]


def travel_asked(request: ShopRequest, model: SuspensionModel) -> int:
    """The travel in the address: one the model is made in, or 0 for every travel."""
    travel_mm = key_from(request.GET.get("travel")) or ALL_TRAVELS
    return travel_mm if travel_mm in model.travels_mm else ALL_TRAVELS


def posted(request: ShopRequest) -> QueryDict | None:
    """What a form is bound to: the data of a POST, even an empty one."""
    return request.POST if request.method == "POST" else None


def may_enter(user: User) -> bool:
    """Mechanics and the owner enter and check values; the counter reads them."""
    return user.may(Right.ENTER_SPECS)


@require_GET
@anyone_in_the_shop
def models(request: ShopRequest) -> HttpResponse:
    words = request.GET.get("q", "")[:80]
    page, lines = pages.page_of_models(words, request.GET.get("page"))
    context = {"q": words, "page": page, "lines": lines, "may_enter": may_enter(request.user)}
    return render(request, "office/specs/models.html", context)


@require_GET
@anyone_in_the_shop
def model(request: ShopRequest, pk: int) -> HttpResponse:
    model = get_object_or_404(SuspensionModel, pk=pk)
    current = pages.current_versions(model)
    context = {
        "model": model,
        "facts": pages.known_facts(model),
        "groups": pages.groups_of(model, current, request.shop),
        "springs": pages.springs_of(model, current),
        "unchecked": sum(not (value.withdrawn or value.is_checked) for value in current),
        "kits": pages.kits_of_page(model),
        "manual_pages": pages_kept(request.shop, model).count(),
        "may_enter": may_enter(request.user),
    }
    return render(request, "office/specs/model.html", context)


@require_GET
@anyone_in_the_shop
def versions(request: ShopRequest, pk: int, quantity: str) -> HttpResponse:
    """Every version of one value: who entered it, from where, and who checked it when."""
    model, meant = get_object_or_404(SuspensionModel, pk=pk), quantity_or_404(quantity)
    travel_mm = travel_asked(request, model)
    stored = SpecValue.objects.filter(model=model, quantity=quantity, travel_mm=travel_mm).order_by("-number")
    lines = [
        (value, written(meant, value, request.shop.unit_for))
        for value in stored.select_related("entered_by", "checked_by", "copied_from", "taken_back_by")
    ]
    current = next((value for value, _ in lines if value.is_current and not value.withdrawn), None)
    context = {
        "model": model,
        "quantity": meant,
        "travel_mm": travel_mm,
        "lines": lines,
        "current": current,
        "form": WithdrawForm(initial={"seen": current.pk}) if current and may_enter(request.user) else None,
        "may_enter": may_enter(request.user),
    }
    return render(request, "office/specs/versions.html", context)


@shows_frames
@require_GET
@anyone_in_the_shop
def unchecked(request: ShopRequest) -> HttpResponse:
    """Values that nobody compared with their source yet, of all models, or of one beside its manual."""
    model_pk = key_from(request.GET.get("model"))
    model = None if model_pk is None else get_object_or_404(SuspensionModel, pk=model_pk)
    manual = list(pages_kept(request.shop, model)) if model else []
    page, lines = pages.page_to_check(
        model_pk=model.pk if model else None,
        number=request.GET.get("page"),
        person=request.user,
        shop=request.shop,
        manual=manual,
    )
    context = {
        "page": page, "lines": lines, "model": model, "manual": manual, "may_enter": may_enter(request.user),
    }  # fmt: skip
    return render(request, "office/specs/unchecked.html", context)


@require_POST
@with_right(Right.ENTER_SPECS)
def check(request: ShopRequest, pk: int) -> HttpResponse:
    """“I compared this with the source.” Answers with the line as it now stands, or the list without script."""
    value = get_object_or_404(SpecValue.objects.select_related("model", "entered_by", "copied_from"), pk=pk)
    refused = ""
    try:
        check_value(value=value, checked_by=request.user)
    except CheckRefused as error:
        refused = str(error)
    if request.htmx:
        line = pages.to_check(value, request.user, request.shop)
        context = {"line": line, "refused": refused, "may_enter": True}
        return render(request, "office/specs/_to_check.html", context, status=409 if refused else 200)
    if refused:
        messages.error(request, f"{value.get_quantity_display()} of {value.model}: {refused}")
    else:
        messages.success(request, f"{value.get_quantity_display()} of {value.model} is checked.")
    only = key_from(request.POST.get("model"))
    query = "" if only is None else f"?{urlencode({'model': only})}"
    return redirect(reverse("office:specs_unchecked") + query)


@require_GET
@with_right(Right.ENTER_SPECS)
@with_password
def export(request: ShopRequest) -> HttpResponse:
    """Current values as a CSV file, of one model or of all."""
    model_pk = key_from(request.GET.get("model"))
    model = None if model_pk is None else get_object_or_404(SuspensionModel, pk=model_pk)
    name = f"spec-values-{timezone.localdate():%Y-%m-%d}.csv"
    return HttpResponse(
        export_csv(exported_values(model)),
        content_type="text/csv; charset=utf-8",
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )
