"""Office, Privacy: how long people are kept, what is held of one of them, and erasing them."""

from __future__ import annotations

import tempfile
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import transaction
from django.http import FileResponse, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from workshop.counter.saving import edit_page
from workshop.counter.search import find_customers
from workshop.customers.looks import looks_at
from workshop.customers.models import Customer
from workshop.customers.privacy_models import Erasure, RetentionPolicy
from workshop.privacy.erasing import (
    edit_retention,
    erase_customer,
    proposed_for_erasure,
    retention_of,
    why_not_erasable,
)
from workshop.privacy.export import write_export
from workshop.privacy.forms import EraseForm, RetentionForm
from workshop.privacy.register import register as entries_of_register
from workshop.privacy.retention import hold
from workshop.staff.security_log import Did, note_by
from workshop.web.confirmed import confirmed
from workshop.web.requests import ShopRequest
from workshop.web.roles import owner_only

MOST_HITS = 25
MOST_LOOKS = 60
_IN_MEMORY_BYTES = 8 * 1024 * 1024


@require_http_methods(["GET", "HEAD", "POST"])
@owner_only
@confirmed
def privacy(request: ShopRequest) -> HttpResponse:
    """The policy, whom it proposes, whom was erased, and a search for one person."""
    stored = retention_of(request.shop)
    text = request.GET.get("q", "").strip()
    hits = find_customers(request.shop, text).filter(erasure__isnull=True)[:MOST_HITS] if text else []
    form = RetentionForm(request.POST or None, initial=_retention_values(stored))
    erased = Erasure.objects.of_shop(request.shop).select_related("customer", "by")
    return edit_page(
        request,
        template="privacy/privacy.html",
        form=form,
        version=stored.version,
        save=lambda seen: _save_retention(request, seen, form),
        form_of=_retention_form,
        done_url=reverse("office:privacy"),
        said="How long people are kept is saved.",
        context={
            "text": text,
            "hits": hits,
            "proposed": proposed_for_erasure(request.shop, timezone.localdate())[:MOST_HITS],
            "erased": erased[:MOST_HITS],
        },
    )


@require_GET
@owner_only
def register(request: ShopRequest) -> HttpResponse:
    """What is kept of people, why and how long, as the tables are today."""
    policy = retention_of(request.shop)
    years = policy.years
    then = ", and erased automatically thirty days later" if policy.by_itself else ""
    context = {
        "shop": request.shop,
        "entries": entries_of_register(),
        "today": timezone.localdate(),
        "proposed_after": f"after {years} years without a visit{then}" if years else "never by the app: no time is set",
    }
    return render(request, "privacy/register.html", context)


@require_GET
@owner_only
def person(request: ShopRequest, pk: int) -> HttpResponse:
    return _person_page(request, _customer(request, pk))


@require_GET
@owner_only
def export(request: ShopRequest, pk: int) -> HttpResponse:
    """Everything held of one person, as a zip file."""
    customer = _customer(request, pk)
    note_by(request, Did.TOOK_PERSON, customer=customer.pk)
    file = tempfile.SpooledTemporaryFile(max_size=_IN_MEMORY_BYTES)  # noqa: SIM115  the response closes it
    write_export(customer, file)
    file.seek(0)
    return FileResponse(  # type: ignore[return-value]
        file, as_attachment=True, filename=f"person-{pk}.zip", content_type="application/zip"
    )


@require_POST
@owner_only
@confirmed
def erase(request: ShopRequest, pk: int) -> HttpResponse:
    customer = _customer(request, pk)
    form = EraseForm(request.POST, customer=customer)
    if form.is_valid():
        try:
            with transaction.atomic():
                note_by(request, Did.ERASED, customer=customer.pk)
                erase_customer(
                    customer=customer,
                    by=request.user,
                    reason=form.cleaned_data["reason"],
                    with_photos=form.cleaned_data["with_photos"],
                )
        except ValidationError as error:
            form.add_error(None, error)
        else:
            messages.success(request, "The person is erased. The workshop’s technical record is kept without them.")
            return redirect("office:privacy")
    return _person_page(request, customer, form, status=422)


@require_POST
@owner_only
def hold_person(request: ShopRequest, pk: int) -> HttpResponse:
    """Keep somebody who is to be erased by itself, or take that back; `keep` says which, so twice is once."""
    customer = _customer(request, pk)
    keep = request.POST.get("keep") == "1"
    if not hold(customer, held=keep):
        messages.info(request, f"{customer.name} is not to be erased automatically.")
    elif keep:
        messages.success(request, f"{customer.name} stays until you say otherwise.")
    else:
        messages.success(request, f"{customer.name} is to be erased automatically again.")
    return redirect("office:privacy_person", pk=pk)


def _person_page(
    request: ShopRequest, customer: Customer, form: EraseForm | None = None, *, status: int = 200
) -> HttpResponse:
    context = {
        "customer": customer,
        "form": form or EraseForm(customer=customer),
        "why_not": why_not_erasable(customer),
        "looks": looks_at(customer)[:MOST_LOOKS],
        "counts": {
            "Bikes": customer.bikes.count(),
            "Forks and shocks": customer.units.count(),
            "Tickets": customer.tickets.count(),
        },
    }
    return render(request, "privacy/person.html", context, status=status)


def _retention_form(stored: RetentionPolicy) -> RetentionForm:
    return RetentionForm(initial=_retention_values(stored))


def _retention_values(stored: RetentionPolicy) -> dict[str, Any]:
    return {"years": stored.years, "by_itself": stored.by_itself}


@transaction.atomic
def _save_retention(request: ShopRequest, seen_version: int, form: RetentionForm) -> None:
    years, by_itself = form.cleaned_data["years"], form.cleaned_data["by_itself"]
    then = "erased automatically" if by_itself else "proposed for erasure"
    note_by(request, Did.RETENTION_CHANGED, how=f"after {years} years {then}" if years else "until they ask")
    edit_retention(shop=request.shop, seen_version=seen_version, years=years, by_itself=by_itself)


def _customer(request: ShopRequest, pk: int) -> Customer:
    return get_object_or_404(Customer.objects.select_related("shop", "erasure_ahead"), pk=pk, shop=request.shop)
