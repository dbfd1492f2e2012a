"""Notes, calls, and telling that something is ready: from the ticket's page and from the list of ready ones."""

from __future__ import annotations

from urllib.parse import quote

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from workshop.counter.saving import REFUSED, put_beside_fields
from workshop.counter.telling_forms import NOTE, ContactForm, SentTextForm
from workshop.counter.ticket_page import ticket_context, whole_ticket
from workshop.reminders.delivery import MailNotSetUp
from workshop.reminders.models import Message
from workshop.reminders.ready_text import all_of
from workshop.reminders.sending import send_waiting
from workshop.reminders.telling_ready import (
    CannotTell,
    ToldAlready,
    queue_ready_email,
    ready_words,
    tell_ready_by_text,
    told_together,
)
from workshop.tickets.access import ticket_of
from workshop.tickets.contacts import add_note, log_call
from workshop.tickets.models import Contact, Ticket
from workshop.web.once import sent_once
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop, counter_only

FROM_TODAY = "today"


@require_POST
@anyone_in_the_shop
@sent_once
def add_contact(request: ShopRequest, number: int) -> HttpResponse:
    """A note or a call in one press; the ticket stays where it is."""
    the_ticket = ticket_of(request.shop, number)
    form = ContactForm(request.POST, number=number)
    if form.is_valid():
        try:
            _write_down(the_ticket, form, request)
        except ValidationError as error:
            put_beside_fields(form, error)
        else:
            return _back(request, number)
    return _ticket_page(request, number, contact_form=form)


def _write_down(the_ticket: Ticket, form: ContactForm, request: ShopRequest) -> None:
    what, words = form.cleaned_data["what"], form.cleaned_data["words"]
    if what == NOTE:
        add_note(ticket=the_ticket, words=words, by=request.user)
        messages.success(request, f"Noted on ticket {the_ticket.number}.")
        return
    made = log_call(ticket=the_ticket, outcome=what, words=words, rang_at=form.cleaned_data["rang_at"], by=request.user)
    messages.success(request, f"Ticket {the_ticket.number}: rang, {made.get_outcome_display()}. Recorded.")


@require_POST
@counter_only
def tell_email(request: ShopRequest, number: int) -> HttpResponse:
    """Tell the customer by email that it is ready: once, however often it is pressed."""
    the_ticket = ticket_of(request.shop, number)
    try:
        told = queue_ready_email(ticket=the_ticket, by=request.user)
    except ToldAlready as told_already:
        messages.info(request, str(told_already))
    except CannotTell as refused:
        messages.error(request, str(refused))
    else:
        _send_now(request, told)
    return _back(request, number)


def _send_now(request: ShopRequest, told: Contact) -> None:
    """Hand it over at once; what cannot leave now stays in the outbox, and says so."""
    try:
        send_waiting(shop=request.shop, only=told.message_id)
    except MailNotSetUp as wanting:
        messages.error(request, f"{wanting} The email waits.")
        return
    sent = Message.objects.get(contacts=told)
    if sent.state == Message.State.SENT:
        numbers = sent.contacts.order_by("ticket__number").values_list("ticket__number", flat=True)
        about = f" about tickets {all_of([str(number) for number in numbers])}" if len(numbers) > 1 else ""
        messages.success(request, f"The email to {sent.to_address}{about} has left.")
    elif sent.state == Message.State.QUEUED:
        messages.warning(request, f"The email could not leave now and is tried again later. {sent.problem}")
    else:
        messages.error(request, f"The email did not leave. {sent.problem}")


@require_http_methods(["GET", "POST"])
@counter_only
@sent_once
def tell_text(request: ShopRequest, number: int) -> HttpResponse:
    """The words of a text message, to copy; once it was sent from a phone, that is written down."""
    the_ticket = whole_ticket(request.shop, number)
    if the_ticket.state != Ticket.State.READY:
        messages.warning(request, f"Ticket {number} is {the_ticket.state_words.lower()}, not ready.")
        return redirect("counter:ticket", number)
    told = told_together(the_ticket)
    words = ready_words(the_ticket, told)
    form = SentTextForm(request.POST if request.method == "POST" else None, initial={"words": words.text})
    if request.method == "POST" and form.is_valid():
        try:
            tell_ready_by_text(ticket=the_ticket, words=form.cleaned_data["words"], by=request.user)
        except CannotTell as refused:
            messages.error(request, str(refused))
        else:
            messages.success(request, "Recorded: told by text message.")
        return redirect(f"{reverse('counter:ticket', args=[number])}#told")
    phone = quote(the_ticket.customer.phone.replace(" ", ""), safe="+()")
    context = {
        "ticket": the_ticket,
        "form": form,
        "words": words,
        "told": told,
        "text_to": f"sms:{phone}?body={quote(words.text)}" if phone else "",
    }
    return render(request, "counter/tell_text.html", context, status=REFUSED if form.errors else 200)


def _back(request: ShopRequest, number: int) -> HttpResponse:
    """Where it was pressed: the counter's first page, or the ticket."""
    if request.POST.get("from") == FROM_TODAY:
        return redirect("counter:today")
    return redirect(f"{reverse('counter:ticket', args=[number])}#told")


def _ticket_page(request: ShopRequest, number: int, *, contact_form: ContactForm) -> HttpResponse:
    context = ticket_context(whole_ticket(request.shop, number), contact_form=contact_form)
    return render(request, "counter/ticket.html", context, status=REFUSED)
