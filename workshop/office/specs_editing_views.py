"""Writing the specs: a value, its withdrawal, a model and its facts."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from specs.entering import ValueChangedMeanwhile, change_value, enter_value, withdraw_value
from specs.expected import expected_keys
from specs.lookup import shown_unit, written
from specs.models import SpecValue, SuspensionModel
from specs.models.values import ALL_TRAVELS
from specs.quantities import QUANTITIES, Quantity
from workshop.office.specs_forms import ModelForm, ValueForm, WithdrawForm, stored_in_form
from workshop.office.specs_models import add_model, change_model
from workshop.office.specs_pages import known_facts
from workshop.office.specs_views import posted, quantity_or_404, travel_asked
from workshop.staff.models import User
from workshop.staff.roles import Right
from workshop.web.requests import ShopRequest
from workshop.web.roles import owner_only, with_right
from workshop.web.versions import StaleVersion


@require_http_methods(["GET", "HEAD", "POST"])
@with_right(Right.ENTER_SPECS)
def value(request: ShopRequest, pk: int, quantity: str) -> HttpResponse:
    """Enter a value, or write the next version of the one that is there."""
    model, meant = get_object_or_404(SuspensionModel, pk=pk), quantity_or_404(quantity)
    stored = _stored(model, quantity, travel_asked(request, model))
    meanwhile = None
    form = ValueForm(
        posted(request),
        model=model,
        quantity=meant,
        shop=request.shop,
        initial=_initial(request, model, meant, stored),
    )
    if request.method == "POST" and form.is_valid():
        try:
            saved = _save(form, model=model, quantity=quantity, person=request.user)
        except ValidationError as error:
            form.add_error(None, error)
        except ValueChangedMeanwhile as changed:
            meanwhile = stored = changed.current
            if meanwhile is not None:
                form.put_in_place_of(meanwhile)
        else:
            return _after_saving(request, saved)
    context = {
        "form": form,
        "model": model,
        "quantity": meant,
        "stored": stored,
        "stored_written": written(meant, stored, request.shop.unit_for) if stored else None,
        "meanwhile": meanwhile,
    }
    status = 409 if meanwhile else 422 if form.errors else 200
    return render(request, "office/specs/value.html", context, status=status)


@require_POST
@with_right(Right.ENTER_SPECS)
def withdraw(request: ShopRequest, pk: int, quantity: str) -> HttpResponse:
    """Say that a value is not known after all."""
    model, meant = get_object_or_404(SuspensionModel, pk=pk), quantity_or_404(quantity)
    form = WithdrawForm(request.POST)
    if not form.is_valid():
        context = {"form": form, "model": model, "quantity": meant, "travel_mm": travel_asked(request, model)}
        return render(request, "office/specs/withdraw.html", context, status=422)
    seen = get_object_or_404(SpecValue, pk=form.cleaned_data["seen"], model=model, quantity=quantity)
    try:
        withdraw_value(seen=seen, why=form.cleaned_data["why"], entered_by=request.user)
        messages.success(request, f"{meant.label} of {model} is withdrawn; it is shown as missing from now on.")
    except (ValidationError, ValueChangedMeanwhile) as error:
        reason = error.messages[0] if isinstance(error, ValidationError) else str(error)
        messages.error(request, f"{reason} Look at its versions first.")
    return redirect(_versions_url(seen))


@require_http_methods(["GET", "HEAD", "POST"])
@owner_only
def new_model(request: ShopRequest) -> HttpResponse:
    form = ModelForm(posted(request))
    if request.method == "POST" and form.is_valid():
        try:
            model = add_model(facts=form.facts)
        except ValidationError as error:
            form.add_error(None, error)
        else:
            messages.success(request, f"{model} is added. Now enter its values, each with its source.")
            return redirect("office:specs_model", model.pk)
    return render(request, "office/specs/model_form.html", {"form": form}, status=422 if form.errors else 200)


@require_http_methods(["GET", "HEAD", "POST"])
@owner_only
def edit_model(request: ShopRequest, pk: int) -> HttpResponse:
    """Change a model's facts. If someone else did so meanwhile, both are shown and the owner decides."""
    model = get_object_or_404(SuspensionModel, pk=pk)
    meanwhile = None
    form = ModelForm(posted(request), instance=model, initial={"seen_version": model.version})
    if request.method == "POST" and form.is_valid():
        stored = get_object_or_404(SuspensionModel, pk=pk)
        try:
            change_model(model=stored, facts=form.facts, seen_version=form.cleaned_data["seen_version"] or 0)
        except ValidationError as error:
            form.add_error(None, error)
        except StaleVersion:
            meanwhile = stored
            form.put_in_place_of(stored)
        else:
            messages.success(request, f"{stored} is saved.")
            return redirect("office:specs_model", pk)
    context = {
        "form": form,
        "model": get_object_or_404(SuspensionModel, pk=pk) if form.is_bound else model,
        "meanwhile": meanwhile,
        "meanwhile_facts": known_facts(meanwhile) if meanwhile else [],
    }
    status = 409 if meanwhile else 422 if form.errors else 200
    return render(request, "office/specs/model_form.html", context, status=status)


def _stored(model: SuspensionModel, quantity: str, travel_mm: int) -> SpecValue | None:
    """The current version, if it says a value."""
    current = SpecValue.objects.filter(model=model, quantity=quantity, travel_mm=travel_mm, is_current=True)
    return current.filter(withdrawn=False).select_related("entered_by").first()


def _initial(
    request: ShopRequest, model: SuspensionModel, quantity: Quantity, stored: SpecValue | None
) -> dict[str, object]:
    """The stored value, or an empty one with the source this person last copied from for this model."""
    if stored is not None:
        return stored_in_form(stored, shown_unit(quantity, request.shop.unit_for), quantity)
    initial: dict[str, object] = {"travel_mm": travel_asked(request, model)}
    last = (
        SpecValue.objects.filter(model=model, entered_by=request.user, withdrawn=False, taken_back_at=None)
        .order_by("-pk")
        .first()
    )
    if last is not None:
        initial |= {"source_document": last.source_document, "source_revision": last.source_revision}
    return initial


def _save(form: ValueForm, *, model: SuspensionModel, quantity: str, person: User) -> SpecValue:
    cleaned = form.cleaned_data
    seen = SpecValue.objects.filter(
        pk=cleaned["seen"], model=model, quantity=quantity, travel_mm=cleaned["travel_mm"], withdrawn=False
    ).select_related("model").first()  # fmt: skip
    typed, tolerance = cleaned["typed"], cleaned.get("tolerance", "")
    if seen is None:
        return enter_value(
            model=model, quantity=quantity, travel_mm=cleaned["travel_mm"], typed=typed, unit=form.shown_unit,
            tolerance=tolerance, source=form.source, entered_by=person,
        )  # fmt: skip
    return change_value(
        seen=seen, typed=typed, unit=form.shown_unit, tolerance=tolerance, source=form.source, entered_by=person
    )


def _after_saving(request: ShopRequest, saved: SpecValue) -> HttpResponse:
    """Back to the model, or on to the next value that is missing."""
    label = QUANTITIES[saved.quantity].label
    messages.success(request, f"{label}: {saved.typed} is saved. A second person has to compare it with the source.")
    if "next_missing" in request.POST and (following := _next_missing(saved)):
        return redirect("office:specs_value", saved.model_id, following)
    return redirect("office:specs_model", saved.model_id)


def _next_missing(saved: SpecValue) -> str | None:
    """The next quantity of the model, in the page's order, of which nothing is known."""
    known = set(
        SpecValue.objects.filter(model=saved.model_id, is_current=True, withdrawn=False).values_list(
            "quantity", flat=True
        )
    )
    keys = expected_keys(saved.model)
    order = list(QUANTITIES)
    after = [key for key in keys if order.index(key) > order.index(saved.quantity)]
    before = [key for key in keys if order.index(key) < order.index(saved.quantity)]
    return next((key for key in (*after, *before) if key not in known), None)


def _versions_url(value: SpecValue) -> str:
    url = reverse("office:specs_versions", args=[value.model_id, value.quantity])
    return url if value.travel_mm == ALL_TRAVELS else f"{url}?travel={value.travel_mm}"
