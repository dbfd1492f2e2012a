"""Suppliers, and what each asks for a part."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db.models import Count, IntegerField, OuterRef, QuerySet, Subquery
from django.db.models.functions import Coalesce
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from workshop.counter.saving import edit_page, put_beside_fields, seen_version
from workshop.stock.lead_times import lead_time_of, lead_times
from workshop.stock.models import StockItem
from workshop.stock.purchase_models import PurchaseOrder
from workshop.stock.supplier_models import Supplier, SupplierPart
from workshop.stock.suppliers import archive_supplier, prefer, save_supplier, set_offer
from workshop.stores.supplier_forms import OfferForm, SupplierForm
from workshop.web.once import sent_once
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop
from workshop.web.versions import StaleVersion

REFUSED = 422
ORDERS_SHOWN = 20


@require_GET
@anyone_in_the_shop
def suppliers(request: ShopRequest) -> HttpResponse:
    """All of them, the archived last."""
    leads = lead_times(request.shop)
    rows = [(one, leads[one.name]) for one in _with_counts(Supplier.objects.filter(shop=request.shop))]
    return render(request, "stores/suppliers.html", {"rows": rows})


def _with_counts(rows: QuerySet[Supplier]) -> QuerySet[Supplier]:
    orders = PurchaseOrder.objects.filter(shop=OuterRef("shop"), supplier=OuterRef("name"), closed_at=None)
    items = StockItem.objects.filter(shop=OuterRef("shop"), supplier=OuterRef("name"))
    counts = {
        name: Coalesce(Subquery(of.order_by().values("shop").annotate(n=Count("pk")).values("n")), 0,
                       output_field=IntegerField())
        for name, of in (("open_orders", orders), ("parts", items))
    }  # fmt: skip
    return rows.annotate(**counts).order_by("archived_at", "name")


@require_http_methods(["GET", "HEAD", "POST"])
@anyone_in_the_shop
@sent_once
def new_supplier(request: ShopRequest) -> HttpResponse:
    form = SupplierForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            made = save_supplier(shop=request.shop, supplier=None, data=form.supplier_data)
        except ValidationError as refused:
            put_beside_fields(form, refused)
        else:
            messages.success(request, f"{made} is entered.")
            return redirect("stores:supplier", made.pk)
    status = REFUSED if form.is_bound else 200
    return render(request, "stores/supplier_edit.html", {"form": form, "supplier": None}, status=status)


@require_GET
@anyone_in_the_shop
def supplier(request: ShopRequest, pk: int) -> HttpResponse:
    the_supplier = _supplier(request, pk)
    orders = PurchaseOrder.objects.filter(shop=request.shop, supplier=the_supplier.name).order_by("-number")
    offers = the_supplier.offers.select_related("item__part").order_by("item__part__number")
    context = {
        "supplier": the_supplier,
        "lead": lead_time_of(the_supplier),
        "orders": orders[:ORDERS_SHOWN],
        "offers": offers[:ORDERS_SHOWN],
    }
    return render(request, "stores/supplier.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@anyone_in_the_shop
def edit_supplier(request: ShopRequest, pk: int) -> HttpResponse:
    the_supplier = _supplier(request, pk)
    form = SupplierForm(request.POST) if request.method == "POST" else SupplierForm.of(the_supplier)
    done = reverse("stores:supplier", args=[pk])
    return edit_page(
        request,
        template="stores/supplier_edit.html",
        form=form,
        version=the_supplier.version,
        save=lambda seen: save_supplier(
            shop=request.shop, supplier=the_supplier, data=form.supplier_data, seen_version=seen
        ),
        form_of=SupplierForm.of,
        done_url=done,
        said="The supplier is saved.",
        context={"supplier": the_supplier, "keep_url": done},
    )


@require_POST
@anyone_in_the_shop
def archive(request: ShopRequest, pk: int) -> HttpResponse:
    """Order from it no more, or with `archived=0` again."""
    the_supplier, archived = _supplier(request, pk), request.POST.get("archived") != "0"
    try:
        archive_supplier(supplier=the_supplier, seen_version=seen_version(request), archived=archived)
    except StaleVersion:
        messages.error(request, f"Somebody changed {the_supplier} meanwhile. Look at it again first.")
    except ValidationError as refused:
        messages.error(request, " ".join(refused.messages))
    else:
        said = "is archived: nothing more is ordered from it" if archived else "is in use again"
        messages.success(request, f"{the_supplier} {said}.")
    return redirect("stores:supplier", pk)


@require_http_methods(["GET", "HEAD", "POST"])
@anyone_in_the_shop
def offers(request: ShopRequest, pk: int) -> HttpResponse:
    """Who sells a part, at what; `?of=` names the supplier whose terms are changed."""
    item = get_object_or_404(StockItem.objects.select_related("part"), shop=request.shop, pk=pk)
    rows = list(item.offers.select_related("supplier"))
    mine = next((one for one in rows if str(one.supplier_id) == request.GET.get("of")), None)
    form = OfferForm(request.shop, item, request.POST) if request.method == "POST" else OfferForm.of(
        request.shop, item, mine
    )  # fmt: skip
    if request.method == "POST" and form.is_valid():
        terms = {name: form.cleaned_data[name] for name in ("supplier", "number", "pack", "price")}
        try:
            offer = set_offer(item=item, **terms)
        except ValidationError as refused:
            put_beside_fields(form, refused)
        else:
            messages.success(request, f"What {offer.supplier} asks is kept.")
            return redirect("stores:offers", pk)
    status = REFUSED if form.is_bound else 200
    return render(request, "stores/offers.html", {"item": item, "rows": rows, "form": form}, status=status)


@require_POST
@anyone_in_the_shop
def prefer_offer(request: ShopRequest, pk: int, offer_pk: int) -> HttpResponse:
    """Order it there from now on, or with `out=1` take that supplier away from the part."""
    offers = SupplierPart.objects.select_related("supplier", "item")
    offer = get_object_or_404(offers, item__shop=request.shop, item=pk, pk=offer_pk)
    if request.POST.get("out") == "1":
        offer.delete()
        messages.success(request, f"{offer.supplier} is no longer listed for this part.")
        return redirect("stores:offers", pk)
    try:
        prefer(item=offer.item, supplier=offer.supplier, seen_version=seen_version(request), by=request.user)
    except StaleVersion:
        messages.error(request, "Somebody changed this part meanwhile. Look at it again first.")
    except ValidationError as refused:
        messages.error(request, " ".join(refused.messages))
    else:
        messages.success(request, f"It is ordered from {offer.supplier} from now on.")
    return redirect("stores:offers", pk)


def _supplier(request: ShopRequest, pk: int) -> Supplier:
    return get_object_or_404(Supplier.objects.select_related("shop"), shop=request.shop, pk=pk)
