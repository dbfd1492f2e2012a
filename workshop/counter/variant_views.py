"""The ways that a ticket's next estimate offers."""

from __future__ import annotations

from collections.abc import Callable

from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_POST

from workshop.charges.variant_models import Variant, VariantLine
from workshop.charges.variants import drop_variant, drop_variant_line, offer, offer_part, offer_work
from workshop.counter.charges_views import REFUSED, charged_ticket, show_charges
from workshop.counter.saving import put_beside_fields
from workshop.counter.variant_forms import VariantForm, part_form, work_form
from workshop.tickets.models import Ticket
from workshop.web.once import sent_once
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop


@require_POST
@anyone_in_the_shop
@sent_once
def add_variant(request: ShopRequest, number: int) -> HttpResponse:
    ticket = charged_ticket(request, number)
    form = VariantForm(request.POST, auto_id="way-%s")
    if form.is_valid() and _done(form, lambda: offer(ticket=ticket, by=request.user, **form.cleaned_data)):
        return redirect("charges:ticket", number)
    return show_charges(request, ticket, REFUSED, variant_form=form)


@require_POST
@anyone_in_the_shop
@sent_once
def add_work(request: ShopRequest, number: int, pk: int) -> HttpResponse:
    ticket, variant = _variant(request, number, pk)
    form = work_form(pk, request.shop, request.POST)
    if form.is_valid() and _done(form, lambda: offer_work(variant=variant, **form.cleaned_data)):
        return redirect("charges:ticket", number)
    return show_charges(request, ticket, REFUSED, refused_offers={("work", pk): form}, offer_form=form)


@require_POST
@anyone_in_the_shop
@sent_once
def add_part(request: ShopRequest, number: int, pk: int) -> HttpResponse:
    ticket, variant = _variant(request, number, pk)
    form = part_form(pk, request.shop, request.POST)
    if form.is_valid() and _done(form, lambda: offer_part(variant=variant, **form.offered)):
        return redirect("charges:ticket", number)
    return show_charges(request, ticket, REFUSED, refused_offers={("part", pk): form}, offer_form=form)


@require_POST
@anyone_in_the_shop
def leave_out_variant(request: ShopRequest, number: int, pk: int) -> HttpResponse:
    _, variant = _variant(request, number, pk)
    return _dropped(request, number, lambda: drop_variant(variant=variant))


@require_POST
@anyone_in_the_shop
def leave_out_line(request: ShopRequest, number: int, pk: int) -> HttpResponse:
    ticket = charged_ticket(request, number)
    lines = VariantLine.objects.select_related("variant__ticket")
    line = get_object_or_404(lines, pk=pk, variant__ticket=ticket)
    return _dropped(request, number, lambda: drop_variant_line(line=line))


def _variant(request: ShopRequest, number: int, pk: int) -> tuple[Ticket, Variant]:
    ticket = charged_ticket(request, number)
    return ticket, get_object_or_404(Variant.objects.select_related("ticket"), pk=pk, ticket=ticket)


def _done(form: forms.Form, add: Callable[[], object]) -> bool:
    try:
        add()
    except ValidationError as refused:
        put_beside_fields(form, refused)
        return False
    return True


def _dropped(request: ShopRequest, number: int, drop: Callable[[], None]) -> HttpResponse:
    try:
        drop()
    except ValidationError as refused:
        messages.error(request, " ".join(refused.messages))
    return redirect("charges:ticket", number)
