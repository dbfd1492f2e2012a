"""The charges of a ticket: labour, the estimate, and the customer's answer."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_POST

from workshop.charges.agreeing import AnsweredMeanwhile, EstimateChanged, newest_estimate
from workshop.charges.discounts import drop_discount, give_discount
from workshop.charges.labour import charge_minutes, charge_price, charge_service, drop_labour, planned_minutes
from workshop.charges.models import Discount, LabourLine, ServicePrice
from workshop.charges.standing import charges_standing, not_used
from workshop.charges.variants import offered_on
from workshop.charges.warranty import bear, lines_for_warranty, words_of_line
from workshop.counter.charges_forms import AnswerForm, LabourMinutesForm
from workshop.counter.saving import put_beside_fields
from workshop.counter.till_forms import DiscountForm, PriceLineForm, WarrantyForm, line_key
from workshop.counter.variant_forms import VariantForm, ways_of
from workshop.tickets.access import ticket_of
from workshop.tickets.models import Ticket
from workshop.web.once import sent_once
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop, counter_only, owner_only
from workshop.work.margin import margin_of
from workshop.work.variants_taken import answer_estimate

REFUSED, CONFLICT = 422, 409


@require_GET
@anyone_in_the_shop
def charges(request: ShopRequest, number: int) -> HttpResponse:
    return show_charges(request, charged_ticket(request, number))


@require_POST
@anyone_in_the_shop
def add_service(request: ShopRequest, number: int) -> HttpResponse:
    try:
        charge_service(ticket=charged_ticket(request, number), level=request.POST.get("level", ""), by=request.user)
    except ValidationError as refused:
        messages.error(request, " ".join(refused.messages))
    return redirect("charges:ticket", number)


@require_POST
@anyone_in_the_shop
@sent_once
def add_minutes(request: ShopRequest, number: int) -> HttpResponse:
    return _add(request, number, charge_minutes, minutes_form=LabourMinutesForm(request.POST))


@require_POST
@anyone_in_the_shop
@sent_once
def add_price(request: ShopRequest, number: int) -> HttpResponse:
    """Something at a price of its own."""
    return _add(request, number, charge_price, price_form=PriceLineForm(request.POST, shop=request.shop))


@require_POST
@counter_only
@sent_once
def add_discount(request: ShopRequest, number: int) -> HttpResponse:
    """Something taken off, with a reason."""
    return _add(request, number, give_discount, discount_form=DiscountForm(request.POST, shop=request.shop))


@require_POST
@counter_only
def leave_out_discount(request: ShopRequest, number: int, pk: int) -> HttpResponse:
    discounts = Discount.objects.select_related("ticket__shop")
    discount = get_object_or_404(discounts, pk=pk, ticket=charged_ticket(request, number))
    try:
        drop_discount(discount=discount, by=request.user)
    except ValidationError as refused:
        messages.error(request, " ".join(refused.messages))
    return redirect("charges:ticket", number)


@require_POST
@counter_only
def under_warranty(request: ShopRequest, number: int) -> HttpResponse:
    """A line that a warranty bears, the shop's or a maker's."""
    ticket = charged_ticket(request, number)
    form = WarrantyForm(request.POST, lines=lines_for_warranty(ticket))
    if form.is_valid():
        try:
            line = form.lines[form.cleaned_data["line"]]
            bear(line=line, warranty=form.cleaned_data["warranty"], by=request.user)
        except ValidationError as refused:
            put_beside_fields(form, refused)
        else:
            return redirect("charges:ticket", number)
    return show_charges(request, ticket, REFUSED, warranty_form=form)


@require_POST
@counter_only
def out_of_warranty(request: ShopRequest, number: int) -> HttpResponse:
    """The customer owes a line after all."""
    ticket = charged_ticket(request, number)
    lines = {line_key(line): line for line in lines_for_warranty(ticket)}
    line = lines.get(request.POST.get("line", ""))
    try:
        if line is None:
            raise ValidationError("That line was removed meanwhile.")
        bear(line=line, warranty="", by=request.user)
    except ValidationError as refused:
        messages.error(request, " ".join(refused.messages))
    return redirect("charges:ticket", number)


@require_GET
@owner_only
def margin(request: ShopRequest, number: int) -> HttpResponse:
    """What the ticket earns, for the owner."""
    ticket = charged_ticket(request, number)
    return render(request, "charges/margin.html", {"ticket": ticket, "margin": margin_of(ticket)})


@require_POST
@anyone_in_the_shop
def drop(request: ShopRequest, number: int, pk: int) -> HttpResponse:
    line = get_object_or_404(
        LabourLine.objects.select_related("ticket__shop"), pk=pk, ticket=charged_ticket(request, number)
    )
    try:
        drop_labour(line=line, by=request.user)
    except ValidationError as refused:
        messages.error(request, " ".join(refused.messages))
    return redirect("charges:ticket", number)


@require_POST
@anyone_in_the_shop
def answer(request: ShopRequest, number: int) -> HttpResponse:
    """Enter what the customer said to the newest estimate."""
    ticket = charged_ticket(request, number)
    estimate = newest_estimate(ticket)
    form = AnswerForm(request.POST)
    if estimate is None:
        messages.error(request, "Print an estimate first; the answer is kept with it.")
        return redirect("charges:ticket", number)
    if form.is_valid():
        said, _, way = request.POST.get("agreed", "").partition("-")
        agreed = said == "yes"
        try:
            answer_estimate(
                document=estimate,
                agreed=agreed,
                variant=way,
                by=request.user,
                seen_digest=request.POST.get("digest", ""),
                seen_answer=request.POST.get("answered", ""),
                **form.cleaned_data,
            )
        except (EstimateChanged, AnsweredMeanwhile) as changed:
            return show_charges(request, ticket, CONFLICT, answer_form=form, conflict=str(changed))
        except ValidationError as refused:
            put_beside_fields(form, refused)
        else:
            messages.success(request, f"Recorded: {'yes' if agreed else 'no'} to estimate {estimate.revision}.")
            return redirect("charges:ticket", number)
    return show_charges(request, ticket, REFUSED, answer_form=form)


def _add(request: ShopRequest, number: int, add: Callable[..., object], **named: forms.Form) -> HttpResponse:
    """Add what its form says, or show the page again with that form under its name."""
    ticket = charged_ticket(request, number)
    ((_, form),) = named.items()
    if form.is_valid():
        try:
            add(ticket=ticket, by=request.user, **form.cleaned_data)
        except ValidationError as refused:
            put_beside_fields(form, refused)
        else:
            return redirect("charges:ticket", number)
    return show_charges(request, ticket, REFUSED, **named)


def charged_ticket(request: ShopRequest, number: int) -> Ticket:
    """A ticket of the shop, with what its charges name. Raises Http404."""
    return ticket_of(request.shop, number, Ticket.objects.with_names().select_related("shop"))


def show_charges(request: ShopRequest, ticket: Ticket, status: int = 200, **refused: Any) -> HttpResponse:
    labour = list(ticket.labour_lines.filter(dropped=False))
    charged = {line.level for line in labour}
    prices = ServicePrice.objects.filter(shop=request.shop, kind=ticket.unit.kind)
    minutes = planned_minutes(ticket)
    parts = list(ticket.part_lines.select_related("part").order_by("pk"))
    lines = lines_for_warranty(ticket, labour, parts)
    context = {
        "ticket": ticket,
        "charged": charges_standing(ticket, parts),
        "labour": labour,
        "discounts": ticket.discounts.filter(dropped=False),
        "price_form": PriceLineForm(shop=request.shop),
        "discount_form": DiscountForm(shop=request.shop),
        "warranty_form": WarrantyForm(lines=lines),
        "warranty_lines": [(line_key(line), words_of_line(line), line) for line in lines if line.warranty],
        "services": [price for price in prices if price.level not in charged],
        "has_prices": bool(prices),
        "planned_minutes": minutes,
        "estimate": newest_estimate(ticket),
        "not_used": not_used(ticket),
        "may_change": ticket.state != Ticket.State.HANDED_BACK,
        "minutes_form": LabourMinutesForm(initial={"minutes": minutes or None}),
        "ways": ways_of(offered_on(ticket), request.shop, refused.pop("refused_offers", None)),
        "taken_way": ticket.variants.filter(taken=True).first(),
        "variant_form": VariantForm(auto_id="way-%s"),
        "answer_form": AnswerForm(initial={"said_by": ticket.customer.name}),
        **refused,
    }
    return render(request, "charges/ticket.html", context, status=status)
