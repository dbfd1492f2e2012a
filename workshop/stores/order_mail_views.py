"""An order as an email to its supplier: read first, sent by a press."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from workshop.counter.saving import seen_version
from workshop.reminders.delivery import MailNotSetUp
from workshop.reminders.models import Message
from workshop.reminders.order_mail import CannotMail, order_mail, queue_order_mail, why_not_mailed
from workshop.reminders.sending import send_waiting
from workshop.stores.order_page import order_of
from workshop.web.once import sent_once
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop
from workshop.web.versions import StaleVersion


@require_http_methods(["GET", "HEAD", "POST"])
@anyone_in_the_shop
@sent_once
def mail_order(request: ShopRequest, number: int) -> HttpResponse:
    """What the supplier will read; a press sends it."""
    order = order_of(request, number)
    if request.method == "POST":
        try:
            message = queue_order_mail(order=order, seen_version=seen_version(request), by=request.user)
        except StaleVersion:
            messages.error(request, "Somebody changed this order meanwhile. Read it again first; nothing was sent.")
            return redirect("stores:mail_order", number)
        except CannotMail as why:
            messages.error(request, str(why))
            return redirect("stores:mail_order", number)
        _send_now(request, message)
        return redirect("stores:order", number)
    mail = order_mail(order)
    context = {"order": order, "mail": mail, "wanting": why_not_mailed(order, mail)}
    return render(request, "stores/order_mail.html", context)


def _send_now(request: ShopRequest, message: Message) -> None:
    """Hand it over at once; what cannot leave now stays in the outbox, and says so."""
    try:
        send_waiting(shop=request.shop, only=message.pk)
    except MailNotSetUp as wanting:
        messages.error(request, f"{wanting} The email waits.")
        return
    message.refresh_from_db()
    if message.state == Message.State.SENT:
        messages.success(request, f"The order to {message.to_address} has left.")
    elif message.state == Message.State.QUEUED:
        messages.warning(request, f"The email could not leave now and is tried again later. {message.problem}")
    else:
        messages.error(request, f"The email did not leave. {message.problem}")
