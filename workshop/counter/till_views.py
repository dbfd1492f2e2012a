"""Money of a ticket: deposits, what was paid, the receipt, money paid back, and taking a hand-over back."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_POST

from workshop.charges.ticket_charges import standing_charges
from workshop.counter.saving import CHANGED_MEANWHILE, REFUSED, put_beside_fields, seen_version
from workshop.counter.till_forms import CreditPartForm, OpenAgainForm, PayBackForm, PaymentForm
from workshop.issued.models import Document
from workshop.staff.roles import Right
from workshop.tickets.access import ticket_of
from workshop.tickets.models import Ticket
from workshop.till.crediting import credit_part, creditable
from workshop.till.receipts import issue_receipt
from workshop.till.standing import money_held, open_sums, paid_for, standing_hand_over, taken_back_with_reason
from workshop.till.taking import PaidPart, pay_back, take_payment
from workshop.web.number_words import shop_money
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop, corrects_takings, money_only
from workshop.web.versions import StaleVersion
from workshop.work.moves import UnlawfulMove
from workshop.work.taking_back import open_again, undo_hand_over


@require_GET
@anyone_in_the_shop
def payments(request: ShopRequest, number: int) -> HttpResponse:
    return _page(request, _ticket(request, number))


@require_POST
@money_only
def take(request: ShopRequest, number: int) -> HttpResponse:
    """A deposit, a part of what is due, or what was left open."""
    ticket = _ticket(request, number)
    form = PaymentForm(request.POST, shop=request.shop)
    if form.is_valid():
        said = form.cleaned_data
        part = PaidPart(said["kind"], said["amount"])
        try:
            payment = take_payment(ticket=ticket, part=part, client_id=said["client_id"], by=request.user)
        except ValidationError as refused:
            put_beside_fields(form, refused)
        else:
            messages.success(request, f"Recorded: {shop_money(payment.amount, request.shop, payment.currency)} paid.")
            return redirect("counter:payments", number)
    return _page(request, ticket, REFUSED, payment_form=form)


@require_POST
@corrects_takings
def give_back(request: ShopRequest, number: int) -> HttpResponse:
    """Money paid back, with a reason."""
    ticket = _ticket(request, number)
    form = PayBackForm(request.POST, shop=request.shop)
    if form.is_valid():
        try:
            payment = pay_back(ticket=ticket, by=request.user, **form.cleaned_data)
        except ValidationError as refused:
            put_beside_fields(form, refused)
        else:
            messages.success(
                request, f"Recorded: {shop_money(-payment.amount, request.shop, payment.currency)} paid back."
            )
            return redirect("counter:payments", number)
    return _page(request, ticket, REFUSED, back_form=form)


@require_POST
@corrects_takings
def credit(request: ShopRequest, number: int) -> HttpResponse:
    """A credit note for a part of a receipt, and the money that goes back with it."""
    ticket = _ticket(request, number)
    hand_over = standing_hand_over(ticket)
    if hand_over is None:
        messages.error(request, "There is nothing to credit: it is not handed over.")
        return redirect("counter:payments", number)
    form = CreditPartForm(request.POST, shop=request.shop, left=creditable(hand_over))
    if form.is_valid():
        try:
            note = credit_part(hand_over=hand_over, by=request.user, **form.cleaned_data)
        except ValidationError as refused:
            put_beside_fields(form, refused)
        else:
            said = shop_money(-note.gross, request.shop, note.currency)
            messages.success(request, f"Credit note {note.number_words} over {said} is issued.")
            return redirect("counter:payments", number)
    return _page(request, ticket, REFUSED, credit_form=form)


@require_POST
@money_only
def receipt(request: ShopRequest, number: int) -> HttpResponse:
    """Issue the receipt of a hand-over that has none yet."""
    ticket = _ticket(request, number)
    hand_over = standing_hand_over(ticket)
    if hand_over is None:
        messages.error(request, "There is nothing to receipt: it is not handed over.")
        return redirect("counter:payments", number)
    try:
        made = issue_receipt(hand_overs=[hand_over], by=request.user)
    except ValidationError as refused:
        messages.error(request, " ".join(refused.messages))
    else:
        messages.success(request, f"Receipt {made.number_words} is issued.")
    return redirect("counter:payments", number)


@require_POST
@money_only
def undo(request: ShopRequest, number: int) -> HttpResponse:
    """The wrong row: as it was before."""
    ticket = _ticket(request, number)
    try:
        undo_hand_over(ticket=ticket, by=request.user, seen_version=seen_version(request))
    except StaleVersion:
        return _page(request, _ticket(request, number), CHANGED_MEANWHILE, changed_meanwhile=True)
    except UnlawfulMove as refused:
        messages.error(request, str(refused))
        return redirect("counter:payments", number)
    messages.success(request, f"Taken back: ticket {number} is {ticket.state_words.lower()} again.")
    return redirect("counter:ticket", number)


@require_POST
@corrects_takings
def reopen(request: ShopRequest, number: int) -> HttpResponse:
    """Open again what was handed over; its receipt stays and a credit note follows."""
    ticket = _ticket(request, number)
    form = OpenAgainForm(request.POST)
    if form.is_valid():
        try:
            note = open_again(ticket=ticket, by=request.user, seen_version=seen_version(request), **form.cleaned_data)
        except StaleVersion:
            return _page(request, _ticket(request, number), CHANGED_MEANWHILE, again_form=form, changed_meanwhile=True)
        except UnlawfulMove as refused:
            form.add_error(None, str(refused))
        except ValidationError as refused:
            put_beside_fields(form, refused)
        else:
            credited = f" Credit note {note.number_words} is issued." if note else ""
            messages.success(request, f"Ticket {number} is open again: {ticket.state_words.lower()}.{credited}")
            return redirect("counter:payments", number)
    return _page(request, _ticket(request, number), REFUSED, again_form=form)


@require_GET
@anyone_in_the_shop
def open_list(request: ShopRequest) -> HttpResponse:
    """What is not paid yet, and money held for what is not handed over."""
    sums, held = open_sums(request.shop), money_held(request.shop)
    context = {
        "open_sums": sums,
        "may_pay": request.user.may(Right.TAKE_MONEY),
        "open_total": sum(one.amount for one in sums),
        "held": held,
        "held_total": sum(one.amount for one in held),
    }
    return render(request, "counter/open_sums.html", context)


def _ticket(request: ShopRequest, number: int) -> Ticket:
    return ticket_of(request.shop, number, Ticket.objects.with_names().select_related("shop"))


def _page(request: ShopRequest, ticket: Ticket, status: int = 200, **refused: Any) -> HttpResponse:
    shop = request.shop
    paid = paid_for(ticket, standing_charges(ticket)[0].gross)
    may_take = request.user.may(Right.TAKE_MONEY) and paid.recorded and (ticket.is_open or paid.due > 0)
    papers = Document.objects.filter(ticket=ticket, kind__in=[Document.Kind.RECEIPT, Document.Kind.CREDIT_NOTE])
    shown: dict[str, forms.Form | None] = {
        "payment_form": PaymentForm(shop=shop, initial={"amount": paid.due if not ticket.is_open else None}),
        "back_form": PayBackForm(shop=shop),
        "again_form": OpenAgainForm(),
        "credit_form": None,
    }
    if paid.receipt is not None and paid.hand_over is not None and request.user.may(Right.CORRECT_TAKINGS):
        left = creditable(paid.hand_over)
        shown["credit_form"] = CreditPartForm(shop=shop, left=left) if left.gross > 0 else None
    context = {
        "ticket": ticket,
        "paid": paid,
        "may_take": may_take,
        "may_correct": request.user.may(Right.CORRECT_TAKINGS),
        "papers": papers.defer("data").order_by("-pk"),
        "opened_again": taken_back_with_reason(ticket),
        "still_ready": _still_ready(ticket) if request.user.may(Right.WRITE_AT_COUNTER) else [],
        **shown,
        **refused,
    }
    return render(request, "counter/payments.html", context, status=status)


def _still_ready(ticket: Ticket) -> list[Ticket]:
    """Once it is handed back: what else of its visit can go now."""
    if ticket.is_open or ticket.visit_id is None:
        return []
    beside = Ticket.objects.filter(visit=ticket.visit_id, state=Ticket.State.READY).exclude(pk=ticket.pk)
    return list(beside.select_related("unit__model").order_by("number"))
