"""Merging two records of a customer: a dry run that says what goes where, then the merge."""

from __future__ import annotations

from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods

from workshop.counter.finding import MOST_HITS
from workshop.counter.put_right_forms import reason_field
from workshop.counter.saving import CHANGED_MEANWHILE, REFUSED, put_beside_fields, seen_version
from workshop.counter.search import find_customers
from workshop.customers.models import Customer
from workshop.privacy.merging import merge_customers, plan_merge
from workshop.staff.roles import Right
from workshop.web.converters import key_from
from workshop.web.requests import ShopRequest
from workshop.web.roles import with_right
from workshop.web.versions import StaleVersion


class MergeForm(forms.Form):
    reason = reason_field("Why they are one person")


@require_http_methods(["GET", "POST"])
@with_right(Right.MERGE_CUSTOMERS)
def merge(request: ShopRequest, pk: int) -> HttpResponse:
    """The record `pk` is kept: `?q=` looks the other up, `?with=` chooses it and says what would go where."""
    kept = _record(request, pk)
    if kept is None:  # it was merged itself
        return redirect("counter:customer", pk)
    chosen = key_from((request.POST if request.method == "POST" else request.GET).get("with"))
    merged = _record(request, chosen) if chosen is not None and chosen != pk else None
    form, status = MergeForm(request.POST or None), 200
    if request.method == "POST" and merged is None:
        messages.info(request, "That record is merged already.")
        return redirect("counter:customer", pk)
    if request.method == "POST" and merged is not None:
        status = REFUSED
        if form.is_valid():
            try:
                merge_customers(
                    kept=kept,
                    merged=merged,
                    by=request.user,
                    seen_kept=seen_version(request),
                    seen_merged=seen_version(request, "seen_merged_version"),
                    reason=form.cleaned_data["reason"],
                )
            except StaleVersion:
                status = CHANGED_MEANWHILE
                kept, merged = _record(request, pk) or kept, _record(request, merged.pk) or merged
            except ValidationError as refused:
                put_beside_fields(form, refused)
            else:
                messages.success(request, f"The two records of {kept} are one now.")
                return redirect("counter:customer", pk)
    text = request.GET.get("q", "").strip()
    context = {
        "customer": kept,
        "merged": merged,
        "form": form,
        "plan": plan_merge(kept=kept, merged=merged) if merged is not None else None,
        "changed_meanwhile": status == CHANGED_MEANWHILE,
        "text": text,
        "hits": find_customers(request.shop, text).exclude(pk=pk)[:MOST_HITS] if text else [],
    }
    return render(request, "privacy/merge.html", context, status=status)


def _record(request: ShopRequest, pk: int) -> Customer | None:
    """A customer of the shop; None where it was merged into another. Raises Http404."""
    found = get_object_or_404(Customer.with_merged, pk=pk, shop=request.shop)
    found.shop = request.shop
    return found if found.merged_into_id is None else None
