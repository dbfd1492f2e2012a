"""By what else a part is known, and which part stands in for it."""

from __future__ import annotations

from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from specs.models import Part, PartNumber, StandIn
from specs.stand_ins import add_number, set_stand_in
from workshop.counter.saving import put_beside_fields
from workshop.staff.roles import Right
from workshop.stock.models import StockItem
from workshop.web.once import sent_once
from workshop.web.requests import ShopRequest
from workshop.web.roles import with_right

REFUSED = 422
keepers_only = with_right(Right.KEEP_PARTS)


class NumberForm(forms.Form):
    """Another number of the part."""

    kind = forms.ChoiceField(label="What it is", choices=PartNumber.Kind.choices)
    number = forms.CharField(
        max_length=60,
        help_text="A code can be scanned into the field.",
        error_messages={"required": "Enter the number."},
    )


class StandInForm(forms.Form):
    """A part that stands in for this one."""

    kind = forms.ChoiceField(label="How", choices=StandIn.Kind.choices)
    other = forms.CharField(max_length=30, label="Our number of the other part")
    reason = forms.CharField(
        max_length=120, label="Why", error_messages={"required": "Say why, such as “no longer made”."}
    )

    def clean_other(self) -> Part:
        found = Part.objects.filter(number__iexact=self.cleaned_data["other"].strip()).first()
        if found is None:
            raise forms.ValidationError("No part of the list has that number.")
        return found


@require_http_methods(["GET", "HEAD", "POST"])
@keepers_only
@sent_once
def part_numbers(request: ShopRequest, pk: int) -> HttpResponse:
    """Numbers and stand-ins of a part; `what` says which of the two forms was sent."""
    part = get_object_or_404(Part, pk=pk)
    posted = request.POST if request.method == "POST" else None
    is_number = request.POST.get("what") == "number"
    number = NumberForm(posted if is_number else None, auto_id="number-%s")
    stand_in = StandInForm(None if is_number else posted, auto_id="stand-in-%s")
    form: forms.Form = number if is_number else stand_in
    if form.is_bound and form.is_valid():
        try:
            if is_number:
                add_number(part=part, **form.cleaned_data)
            else:
                set_stand_in(part=part, **form.cleaned_data)
        except ValidationError as refused:
            put_beside_fields(form, refused)
        else:
            messages.success(request, "Kept.")
            return redirect("stores:part_numbers", pk)
    context = {
        "part": part,
        "item": StockItem.objects.filter(shop=request.shop, part=part).first(),
        "number_form": number,
        "stand_in_form": stand_in,
        "numbers": part.other_numbers.all(),
        "stand_ins": part.stand_ins.select_related("other"),
        "stands_in_for": part.stands_in_for.select_related("part"),
    }
    return render(request, "stores/part_numbers.html", context, status=REFUSED if form.is_bound else 200)


@require_POST
@keepers_only
def remove_number(request: ShopRequest, pk: int) -> HttpResponse:
    """Take a number away, or with `stand_in` a stand-in; what is gone already is no error."""
    part = get_object_or_404(Part, pk=pk)
    rows = part.stand_ins if "stand_in" in request.POST else part.other_numbers
    key = request.POST.get("key", "")
    removed = rows.filter(pk=int(key)).delete()[0] if key.isdecimal() and len(key) < 19 else 0
    messages.success(request, "Taken away." if removed else "It was taken away already.")
    return redirect("stores:part_numbers", pk)
