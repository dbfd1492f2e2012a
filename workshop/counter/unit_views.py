"""Forks and shocks: their history, changes to them, and moving them between bikes and owners."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from workshop.counter.customer_views import customer_at
from workshop.counter.finding import MOST_HITS, find_models, model_meant
from workshop.counter.history import tickets_of
from workshop.counter.saving import REFUSED, edit_page, put_beside_fields
from workshop.counter.search import find_customers
from workshop.counter.unit_forms import FitOnBikeForm, UnitForm
from workshop.intervals.life import life_of
from workshop.suspension.adding import add_unit
from workshop.suspension.fitting import end_fitting, fit, give_to
from workshop.suspension.models import SuspensionUnit
from workshop.suspension.unit_fields import unit_rows
from workshop.tickets.correcting import correct_unit
from workshop.web.converters import key_from
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop, counter_only
from workshop.work.unsafe import left_unsafe


@require_GET
@anyone_in_the_shop
def unit(request: ShopRequest, pk: int) -> HttpResponse:
    return render(request, "counter/unit.html", _unit_context(request, _unit(request, pk)))


@require_POST
@counter_only
def move_unit(request: ShopRequest, pk: int) -> HttpResponse:
    """Onto another bike of its owner, or off its bike."""
    the_unit = _unit(request, pk)
    form = FitOnBikeForm(request.POST, customer=the_unit.customer)
    if form.is_valid():
        bike, since = form.cleaned_data["bike"], form.cleaned_data["since"]
        try:
            if bike is None:
                end_fitting(unit=the_unit, until=since)
            else:
                fit(unit=the_unit, bike=bike, since=since, by=request.user)
        except ValidationError as error:
            put_beside_fields(form, error)
        else:
            messages.success(request, f"{the_unit} is {'off its bike' if bike is None else f'on {bike}'}.")
            return redirect("counter:unit", pk)
    return render(request, "counter/unit.html", _unit_context(request, the_unit, fit_form=form), status=REFUSED)


@require_http_methods(["GET", "POST"])
@counter_only
def give_unit(request: ShopRequest, pk: int) -> HttpResponse:
    """Look up the new owner under `?q=`, and pass the unit on to them."""
    the_unit = _unit(request, pk)
    if request.method == "POST":
        new_owner = customer_at(request, key_from(request.POST.get("customer")) or 0)
        give_to(unit=the_unit, customer=new_owner, on=timezone.localdate(), by=request.user)
        messages.success(request, f"{the_unit} now belongs to {new_owner}.")
        return redirect("counter:unit", pk)
    text = request.GET.get("q", "").strip()
    hits = find_customers(request.shop, text).exclude(pk=the_unit.customer_id)[:MOST_HITS]
    return render(request, "counter/unit_give.html", {"the_unit": the_unit, "text": text, "hits": hits})


@require_http_methods(["GET", "POST"])
@counter_only
def new_unit(request: ShopRequest, pk: int) -> HttpResponse:
    """A further fork or shock of the customer `pk`."""
    the_customer = customer_at(request, pk)
    form = UnitForm(request.POST or None, shop=request.shop)
    if request.method == "POST" and form.is_valid():
        try:
            made = add_unit(customer=the_customer, **form.cleaned_data)
        except ValidationError as error:
            put_beside_fields(form, error)
        else:
            messages.success(request, f"{made} is added.")
            return redirect("counter:unit", made.pk)
    context = {"form": form, "customer": the_customer, **models_context(form)}
    return render(request, "counter/unit_edit.html", context, status=REFUSED if form.errors else 200)


@require_http_methods(["GET", "POST"])
@counter_only
def change_unit(request: ShopRequest, pk: int) -> HttpResponse:
    the_unit, shop = _unit(request, pk), request.shop
    form = UnitForm(request.POST, shop=shop) if request.method == "POST" else UnitForm.of(the_unit, shop)
    return edit_page(
        request,
        template="counter/unit_edit.html",
        form=form,
        version=the_unit.version,
        save=lambda seen: correct_unit(unit=the_unit, by=request.user, seen_version=seen, **form.cleaned_data),
        form_of=lambda stored: UnitForm.of(stored, shop),
        done_url=reverse("counter:unit", args=[pk]),
        said="The unit is saved.",
        context={"the_unit": the_unit, "customer": the_unit.customer, **models_context(form)},
    )


@require_GET
@anyone_in_the_shop
def models(request: ShopRequest) -> HttpResponse:
    """Models of the specs under `?described_as=`, for the picker of an editing page."""
    form = UnitForm(shop=request.shop, initial=request.GET.dict())
    return render(request, "counter/_model_hits.html", {"form": form, **models_context(form)})


def models_context(form: Any) -> dict[str, Any]:
    """Models that match what was typed as make and model, the chosen one in any case, and which is chosen now.

    Those of the kind that is ticked come first; the rest stay, for the tick may be the slip.
    """
    text = form["described_as"].value() or ""
    chosen = form["model"].value()
    chosen_pk = key_from(getattr(chosen, "pk", chosen))
    kind = form["kind"].value()
    hits = sorted(find_models(text), key=lambda model: bool(kind) and model.kind != kind)
    if chosen_pk is not None and chosen_pk not in {hit.pk for hit in hits}:
        hits = [*form.fields["model"].queryset.filter(pk=chosen_pk), *hits]
    meant = model_meant(text, listed_for=form["listed_for"].value(), chosen=chosen_pk, hits=hits)
    return {"model_hits": hits, "model_choice": meant}


def _unit(request: ShopRequest, pk: int) -> SuspensionUnit:
    return get_object_or_404(SuspensionUnit.objects.select_related("model", "customer"), pk=pk, shop=request.shop)


def _unit_context(request: ShopRequest, the_unit: SuspensionUnit, **forms: Any) -> dict[str, Any]:
    fittings = list(the_unit.fittings.select_related("bike", "recorded_by"))
    return {
        "the_unit": the_unit,
        "noted": unit_rows(the_unit, request.shop),
        "life": life_of(the_unit, request.shop),
        "came_back_unsafe": left_unsafe(the_unit),
        "fittings": fittings,
        "fitted": next((fitting for fitting in fittings if fitting.until is None), None),
        "tickets": tickets_of(unit=the_unit, page=request.GET.get("page")),
        "fit_form": FitOnBikeForm(customer=the_unit.customer),
        **forms,
    }
