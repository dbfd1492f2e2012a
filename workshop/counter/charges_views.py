"""The charges of a ticket: labour, the estimate, and the customer's answer."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_POST

from workshop.charges.agreeing import AnsweredMeanwhile, EstimateChanged, newest_estimate, record_answer
from workshop.charges.labour import charge_minutes, charge_service, drop_labour, planned_minutes
from workshop.charges.models import LabourLine, ServicePrice
from workshop.charges.standing import charges_standing, not_used
from workshop.counter.charges_forms import AnswerForm, LabourMinutesForm
from workshop.counter.saving import put_beside_fields
from workshop.tickets.access import ticket_of
from workshop.tickets.models import Ticket
from workshop.web.once import sent_once
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop

REFUSED, CONFLICT = 422, 409


@require_GET
@anyone_in_the_shop
def charges(request: ShopRequest, number: int) -> HttpResponse:
    return _page(request, _ticket(request, number))


@require_POST
@anyone_in_the_shop
def add_service(request: ShopRequest, number: int) -> HttpResponse:
    try:
        charge_service(ticket=_ticket(request, number), level=request.POST.get("level", ""), by=request.user)
    except ValidationError as refused:
        messages.error(request, " ".join(refused.messages))
    return redirect("charges:ticket", number)


@require_POST
@anyone_in_the_shop
@sent_once
def add_minutes(request: ShopRequest, number: int) -> HttpResponse:
    ticket = _ticket(request, number)
    form = LabourMinutesForm(request.POST)
    if form.is_valid():
        try:
            charge_minutes(ticket=ticket, by=request.user, **form.cleaned_data)
        except ValidationError as refused:
            put_beside_fields(form, refused)
        else:
            return redirect("charges:ticket", number)
    return _page(request, ticket, REFUSED, minutes_form=form)


@require_POST
@anyone_in_the_shop
def drop(request: ShopRequest, number: int, pk: int) -> HttpResponse:
    line = get_object_or_404(LabourLine.objects.select_related("ticket__shop"), pk=pk, ticket=_ticket(request, number))
    try:
        drop_labour(line=line, by=request.user)
    except ValidationError as refused:
        messages.error(request, " ".join(refused.messages))
    return redirect("charges:ticket", number)


@require_POST
@anyone_in_the_shop
def answer(request: ShopRequest, number: int) -> HttpResponse:
    """Write down what the customer said to the newest estimate."""
    ticket = _ticket(request, number)
    estimate = newest_estimate(ticket)
    form = AnswerForm(request.POST)
    if estimate is None:
        messages.error(request, "Print an estimate first; the answer is kept with it.")
        return redirect("charges:ticket", number)
    if form.is_valid():
        agreed = request.POST.get("agreed") == "yes"
        try:
            record_answer(
                document=estimate,
                agreed=agreed,
                by=request.user,
                seen_digest=request.POST.get("digest", ""),
                seen_answer=request.POST.get("answered", ""),
                **form.cleaned_data,
            )
        except (EstimateChanged, AnsweredMeanwhile) as changed:
            return _page(request, ticket, CONFLICT, answer_form=form, conflict=str(changed))
        except ValidationError as refused:
            put_beside_fields(form, refused)
        else:
            messages.success(request, f"Written down: {'yes' if agreed else 'no'} to estimate {estimate.revision}.")
            return redirect("charges:ticket", number)
    return _page(request, ticket, REFUSED, answer_form=form)


def _ticket(request: ShopRequest, number: int) -> Ticket:
    return ticket_of(request.shop, number, Ticket.objects.with_names().select_related("shop"))


def _page(request: ShopRequest, ticket: Ticket, status: int = 200, **refused: Any) -> HttpResponse:
    labour = list(ticket.labour_lines.filter(dropped=False))
    charged = {line.level for line in labour}
    prices = ServicePrice.objects.filter(shop=request.shop, kind=ticket.unit.kind)
    minutes = planned_minutes(ticket)
    context = {
        "ticket": ticket,
        "charged": charges_standing(ticket),
        "labour": labour,
        "services": [price for price in prices if price.level not in charged],
        "has_prices": bool(prices),
        "planned_minutes": minutes,
        "estimate": newest_estimate(ticket),
        "not_used": not_used(ticket),
        "may_change": ticket.state != Ticket.State.HANDED_BACK,
        "minutes_form": LabourMinutesForm(initial={"minutes": minutes or None}),
        "answer_form": AnswerForm(initial={"said_by": ticket.customer.name}),
        **refused,
    }
    return render(request, "charges/ticket.html", context, status=status)
