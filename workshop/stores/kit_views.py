"""Service kits on the screen."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_POST

from specs.models import KitLine, Part, ServiceKit, SuspensionModel
from workshop.bench.part_forms import quantity_form_field
from workshop.bench.part_search import find_parts, found_of
from workshop.counter.saving import put_beside_fields
from workshop.staff.roles import Right
from workshop.stock.kits import KitChangedMeanwhile, kits_standing, make_kit, put_in_kit, set_kit_quantity
from workshop.stock.typed_amounts import NoAmount, read_amount
from workshop.web.number_words import figures
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop, owner_only

REFUSED, CONFLICT = 422, 409


class NewKitForm(forms.Form):
    model = forms.ModelChoiceField(SuspensionModel.objects.all(), label="Model", empty_label="Choose a model")
    level = forms.ChoiceField(label="Service", choices=ServiceKit.Level.choices)


class KitLineForm(forms.Form):
    part = forms.ModelChoiceField(
        Part.objects.all(),
        widget=forms.HiddenInput,
        error_messages={"required": "Find a part first.", "invalid_choice": "That part is no longer in the list."},
    )
    quantity = quantity_form_field()
    note = forms.CharField(max_length=120, required=False)


@require_GET
@anyone_in_the_shop
def kits(request: ShopRequest) -> HttpResponse:
    return _list(request, NewKitForm())


@require_POST
@owner_only
def new_kit(request: ShopRequest) -> HttpResponse:
    form = NewKitForm(request.POST)
    if form.is_valid():
        try:
            made = make_kit(**form.cleaned_data)
        except ValidationError as refused:
            put_beside_fields(form, refused)
        else:
            return redirect("stores:kit", made.pk)
    return _list(request, form, REFUSED)


@require_GET
@anyone_in_the_shop
def kit(request: ShopRequest, pk: int) -> HttpResponse:
    return _show(request, pk, _new_line())


@require_POST
@owner_only
def add_line(request: ShopRequest, pk: int) -> HttpResponse:
    form = KitLineForm(request.POST)
    if form.is_valid():
        try:
            put_in_kit(kit=get_object_or_404(ServiceKit, pk=pk), **form.cleaned_data)
        except ValidationError as refused:
            put_beside_fields(form, refused)
        else:
            return redirect("stores:kit", pk)
    return _show(request, pk, form, REFUSED)


@require_POST
@owner_only
def change_line(request: ShopRequest, pk: int, line_pk: int) -> HttpResponse:
    """Another quantity than the one that was `seen`, or with `out=1` the part out of the kit."""
    line = KitLine.objects.select_related("part").filter(pk=line_pk, kit=pk).first()
    if line is None:
        return _taken_out(request, pk)
    if request.POST.get("out") == "1":
        line.delete()
        messages.success(request, f"“{line.part}” is out of the kit.")
        return redirect("stores:kit", pk)
    typed = request.POST.get("quantity", "")[:20]
    try:
        seen = read_amount(request.POST.get("seen", "")[:20])
        set_kit_quantity(line=line, quantity=read_amount(typed), seen=seen)
    except NoAmount as refused:
        return _show(request, pk, _new_line(), REFUSED, wrong=(line_pk, typed, str(refused)))
    except KitChangedMeanwhile as changed:
        if changed.now is None:
            return _taken_out(request, pk)
        reason = f"Somebody set it to {figures(changed.now)} meanwhile. “Change” again takes yours."
        return _show(request, pk, _new_line(), CONFLICT, wrong=(line_pk, typed, reason))
    messages.success(request, f"{line.part.description}: the kit takes {typed} now.")
    return redirect("stores:kit", pk)


def _taken_out(request: ShopRequest, pk: int) -> HttpResponse:
    get_object_or_404(ServiceKit, pk=pk)
    messages.warning(request, "Somebody took that part out of the kit meanwhile.")
    return redirect("stores:kit", pk)


def _list(request: ShopRequest, form: NewKitForm, status: int = 200) -> HttpResponse:
    every = ServiceKit.objects.select_related("model").prefetch_related("lines__part").order_by("model", "level")
    context = {
        "standings": kits_standing(request.shop, every),
        "form": form,
        "may_edit": request.user.may(Right.RUN_THE_SHOP),
    }
    return render(request, "stores/kits.html", context, status=status)


def _found(request: ShopRequest, form: KitLineForm) -> dict[str, Any]:
    """The parts that were looked for, at most twenty; after a refusal the one that was to be put in."""
    wanted = (request.POST if form.is_bound else request.GET).get("q", "").strip()[:60]
    if not form.is_bound:
        return {"wanted": wanted, "found": find_parts(request.shop, wanted) if wanted else []}
    chosen = getattr(form, "cleaned_data", {}).get("part")
    said = [str(words) for errors in form.errors.values() for words in errors]
    return {
        "wanted": wanted,
        "found": found_of(request.shop, [chosen] if chosen is not None else []),
        "refused": " ".join(dict.fromkeys(said)),
    }


def _new_line() -> KitLineForm:
    return KitLineForm(initial={"quantity": "1"})


def _show(
    request: ShopRequest, pk: int, form: KitLineForm, status: int = 200, wrong: tuple[int, str, str] = (0, "", "")
) -> HttpResponse:
    """`wrong` is a line whose quantity was refused, what was typed, and why."""
    kits = ServiceKit.objects.select_related("model").prefetch_related("lines__part")
    (standing,) = kits_standing(request.shop, [get_object_or_404(kits, pk=pk)])
    wrong_pk, typed, reason = wrong
    rows = [
        {
            "line": line,
            "there": there,
            "name": f"quantity-{line.pk}",
            "seen": figures(line.quantity),
            "value": typed if line.pk == wrong_pk else figures(line.quantity),
            "error": reason if line.pk == wrong_pk else "",
        }
        for line, there in standing.lines
    ]
    may_edit = request.user.may(Right.RUN_THE_SHOP)
    context: dict[str, Any] = {
        "standing": standing,
        "rows": rows,
        "form": form,
        "may_edit": may_edit,
        **(_found(request, form) if may_edit else {}),
    }
    return render(request, "stores/kit.html", context, status=status)
