"""What a customer has open, paid in one."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from workshop.charges.sums import NOTHING
from workshop.counter.customer_views import customer_at
from workshop.counter.saving import REFUSED, put_beside_fields
from workshop.counter.till_forms import OpenSumsForm
from workshop.till.on_account import open_receipts, pay_open
from workshop.web.number_words import shop_money
from workshop.web.requests import ShopRequest
from workshop.web.roles import money_only


@require_http_methods(["GET", "POST"])
@money_only
def open_of_customer(request: ShopRequest, pk: int) -> HttpResponse:
    """The receipts a customer has not paid, and one payment over those that are ticked."""
    customer = customer_at(request, pk)
    rows = open_receipts(customer)
    form = OpenSumsForm(request.POST if request.method == "POST" else None, shop=request.shop, rows=rows)
    if request.method == "POST" and form.is_valid():
        try:
            booked = pay_open(customer=customer, by=request.user, **form.cleaned_data)
        except ValidationError as refused:
            put_beside_fields(form, refused)
        else:
            paid = shop_money(sum((one.amount for one in booked), NOTHING), request.shop)
            on = ", ".join(
                f"{shop_money(one.amount, request.shop, one.currency)} on ticket {one.ticket.number}" for one in booked
            )
            messages.success(request, f"Recorded: {paid} paid, {on}.{form.change_words}")
            return redirect("counter:open_of_customer", customer.pk)
    context = {"customer": customer, "rows": rows, "form": form, "total": sum(one.sum.amount for one in rows)}
    return render(request, "counter/open_of_customer.html", context, status=REFUSED if form.errors else 200)
