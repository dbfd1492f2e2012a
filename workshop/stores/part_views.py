"""Parts of the list: added, changed, and taken away where nothing uses them."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import transaction
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from specs.models import Part
from specs.parts_editing import delete_part, save_part
from workshop.counter.saving import edit_page, put_beside_fields
from workshop.staff.roles import Right
from workshop.stock.models import StockItem
from workshop.stores.part_forms import PartForm
from workshop.web.requests import ShopRequest
from workshop.web.roles import with_right
from workshop.web.versions import take_version

keepers_only = with_right(Right.KEEP_PARTS)
REFUSED = 422


@require_http_methods(["GET", "HEAD", "POST"])
@keepers_only
def new_part(request: ShopRequest) -> HttpResponse:
    """A part that is in no list yet; its price and place come next."""
    form = PartForm(request.POST) if request.method == "POST" else PartForm()
    if request.method == "POST" and form.is_valid():
        try:
            part = save_part(part=None, data=form.part_data)
        except ValidationError as refused:
            put_beside_fields(form, refused)
        else:
            messages.success(request, f"“{part}” is in the list. Give it a price and a place.")
            return redirect(f"{reverse('stores:add')}?part={part.pk}")
    status = REFUSED if form.is_bound else 200
    return render(request, "stores/part_edit.html", {"form": form, "part": None}, status=status)


@require_http_methods(["GET", "HEAD", "POST"])
@keepers_only
def edit_part(request: ShopRequest, pk: int) -> HttpResponse:
    part = get_object_or_404(Part, pk=pk)
    form = PartForm(request.POST) if request.method == "POST" else PartForm.of(part)

    def save(seen: int) -> Part:
        with transaction.atomic():
            return save_part(part=take_version(part, seen), data=form.part_data)

    item = StockItem.objects.filter(shop=request.shop, part=part).first()
    done = reverse("stores:item", args=[item.pk]) if item else reverse("stores:stock")
    return edit_page(
        request,
        template="stores/part_edit.html",
        form=form,
        version=part.version,
        save=save,
        form_of=PartForm.of,
        done_url=done,
        said="The part is saved.",
        context={"part": part, "keep_url": done},
    )


@require_POST
@keepers_only
def remove_part(request: ShopRequest, pk: int) -> HttpResponse:
    part = get_object_or_404(Part, pk=pk)
    try:
        delete_part(part)
    except ValidationError as refused:
        messages.error(request, " ".join(refused.messages))
        return redirect("stores:edit_part", pk)
    messages.success(request, f"“{part}” is off the list.")
    return redirect("stores:stock")
