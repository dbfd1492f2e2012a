"""Customers and bikes."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.core.paginator import Page, Paginator
from django.db.models import Count, OuterRef, Subquery
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from workshop.counter.customer_forms import SHARES_PHONE, BikeForm, CustomerForm, show_shared_phone
from workshop.counter.history import bikes_with_units, tickets_of, units_with_fittings
from workshop.counter.saving import REFUSED, edit_page, put_beside_fields
from workshop.counter.search import find_customers
from workshop.customers.adding import add_bike, add_customer
from workshop.customers.editing import edit_bike, edit_customer
from workshop.customers.emails import said_of_email
from workshop.customers.known import refuse_known_phone
from workshop.customers.looks import note_look
from workshop.customers.merged import chosen_customer
from workshop.customers.models import Bike, Customer
from workshop.tickets.models import Ticket
from workshop.web.converters import key_from
from workshop.web.folding import digits
from workshop.web.once import sent_once
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop, counter_only
from workshop.web.stretch import Stretch, stretch_of

PER_PAGE = 50


@require_GET
@anyone_in_the_shop
def customers(request: ShopRequest) -> HttpResponse:
    """Customers by name, or those found under `?q=`."""
    text = request.GET.get("q", "").strip()
    inside = Ticket.objects.open().filter(customer=OuterRef("pk")).order_by().values("customer")
    inside_count = Subquery(inside.annotate(count=Count("pk")).values("count"))
    page: Page[Any] | Stretch[Any]
    if text:
        found = find_customers(request.shop, text).annotate(inside=inside_count)
        page = Paginator(found, PER_PAGE).get_page(request.GET.get("page"))
    else:
        after = Customer.objects.filter(shop=request.shop, pk=key_from(request.GET.get("after")) or 0).first()
        rows = Customer.objects.filter(shop=request.shop).order_by("name", "pk").annotate(inside=inside_count)
        if after is not None:
            rows = rows.filter(name__gte=after.name).exclude(name=after.name, pk__lte=after.pk)
        page = stretch_of(rows, PER_PAGE, key=lambda customer: customer.pk, is_later=after is not None)
    return render(request, "counter/customers.html", {"page": page, "text": text})


@require_GET
@anyone_in_the_shop
def customer(request: ShopRequest, pk: int) -> HttpResponse:
    the_customer = get_object_or_404(Customer.with_merged, pk=pk, shop=request.shop)
    if the_customer.merged_into_id is not None:  # an old address leads to where all of it went
        return redirect("counter:customer", the_customer.merged_into_id)
    note_look(the_customer, request.user)
    context = {
        "customer": the_customer,
        "merged": Customer.with_merged.filter(merged_into=the_customer)
        .select_related("merged_by")
        .order_by("merged_at"),
        "tickets": tickets_of(customer=the_customer, page=request.GET.get("page")),
        "units": units_with_fittings(the_customer),
        "bikes": bikes_with_units(the_customer),
    }
    return render(request, "counter/customer.html", context)


@require_http_methods(["GET", "POST"])
@counter_only
def new_customer(request: ShopRequest) -> HttpResponse:
    form = CustomerForm(request.POST or None, shop=request.shop)
    if request.method == "POST" and form.is_valid():
        values = {**form.cleaned_data}
        shared = values["phone"] if request.POST.get(SHARES_PHONE) == digits(values["phone"]) else ""
        try:
            refuse_known_phone(shop=request.shop, phone=values["phone"], shared=shared)
            made = add_customer(shop=request.shop, by=request.user, **values)
        except ValidationError as error:
            show_shared_phone(form, error)
            put_beside_fields(form, error)
        else:
            messages.success(request, f"{made} is added.")
            return redirect("counter:customer", made.pk)
    return render(request, "counter/customer_edit.html", {"form": form}, status=REFUSED if form.errors else 200)


@require_GET
@counter_only
def check_email(request: ShopRequest) -> HttpResponse:
    """What is said beside an email address while it is typed, under whatever name its field has."""
    typed = str(next(iter(request.GET.values()), ""))
    return render(request, "counter/_email_said.html", {"said": said_of_email(request.shop, typed)})


@require_http_methods(["GET", "POST"])
@counter_only
def change_customer(request: ShopRequest, pk: int) -> HttpResponse:
    the_customer = customer_at(request, pk)
    if the_customer.pk != pk:
        if request.method == "POST":
            messages.error(request, f"The record was merged into this one of {the_customer}. Nothing was changed.")
        return redirect("counter:change_customer", the_customer.pk)
    shop = request.shop
    form = CustomerForm(request.POST, shop=shop) if request.method == "POST" else CustomerForm.of(the_customer, shop)
    return edit_page(
        request,
        template="counter/customer_edit.html",
        form=form,
        version=the_customer.version,
        save=lambda seen: edit_customer(customer=the_customer, seen_version=seen, **form.cleaned_data),
        form_of=lambda stored: CustomerForm.of(stored, shop),
        done_url=reverse("counter:customer", args=[pk]),
        said="The customer’s details are saved.",
        context={"customer": the_customer},
    )


@require_GET
@anyone_in_the_shop
def bike(request: ShopRequest, pk: int) -> HttpResponse:
    the_bike = _bike(request, pk)
    context = {
        "bike": the_bike,
        "fittings": the_bike.fittings.select_related("unit__model"),
        "tickets": tickets_of(bike=the_bike, page=request.GET.get("page")),
    }
    return render(request, "counter/bike.html", context)


@require_http_methods(["GET", "POST"])
@counter_only
@sent_once
def new_bike(request: ShopRequest, pk: int) -> HttpResponse:
    """A further bike of the customer `pk`."""
    the_customer = customer_at(request, pk)
    form = BikeForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        made = add_bike(customer=the_customer, by=request.user, **form.cleaned_data)
        messages.success(request, f"{made} is added.")
        return redirect("counter:customer", made.customer_id)
    context: dict[str, Any] = {"form": form, "customer": the_customer}
    return render(request, "counter/bike_edit.html", context, status=REFUSED if form.errors else 200)


@require_http_methods(["GET", "POST"])
@counter_only
def change_bike(request: ShopRequest, pk: int) -> HttpResponse:
    the_bike = _bike(request, pk)
    form = BikeForm(request.POST) if request.method == "POST" else BikeForm.of(the_bike)
    return edit_page(
        request,
        template="counter/bike_edit.html",
        form=form,
        version=the_bike.version,
        save=lambda seen: edit_bike(bike=the_bike, seen_version=seen, by=request.user, **form.cleaned_data),
        form_of=BikeForm.of,
        done_url=reverse("counter:bike", args=[pk]),
        said="The bike is saved.",
        context={"bike": the_bike, "customer": the_bike.customer},
    )


def customer_at(request: ShopRequest, pk: int) -> Customer:
    """The customer, or the record theirs was merged into. Raises Http404."""
    found = chosen_customer(request.shop, pk)
    if found is None:
        raise Http404
    return found


def _bike(request: ShopRequest, pk: int) -> Bike:
    bikes = Bike.objects.select_related("customer", "leverage_by")
    return get_object_or_404(bikes, pk=pk, customer__shop=request.shop)
