"""The shop's side of a customer's link: making it and withdrawing it."""

from __future__ import annotations

from urllib.parse import quote

import segno
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from workshop.customers.language import speaking_to
from workshop.links.links import make_link, withdraw_link
from workshop.links.models import CustomerLink
from workshop.tickets.access import ticket_of
from workshop.web.public_address import WANTING, link_for_customer, public_address_of
from workshop.web.requests import ShopRequest
from workshop.web.roles import counter_only


@never_cache
@require_POST
@counter_only
def make(request: ShopRequest, number: int) -> HttpResponse:
    """Make a link and show it, once: only its digest is kept."""
    ticket = ticket_of(request.shop, number)
    if not link_for_customer(request.shop, "/", request):
        messages.error(request, f"{WANTING} No link was made.")
        return redirect("counter:ticket", number=number)
    link, secret = make_link(ticket=ticket, by=request.user)
    address = link_for_customer(request.shop, reverse("customer:page", args=[secret]), request)
    with speaking_to(ticket.customer):
        subject = gettext("Ticket %(number)s") % {"number": number}
        words = gettext("Your %(unit)s at %(shop)s: %(address)s") % {
            "unit": ticket.unit.title,
            "shop": request.shop.name,
            "address": address,
        }
    mail, phone = quote(ticket.customer.email, safe="@"), quote(ticket.customer.phone.replace(" ", ""), safe="+()")
    context = {
        "ticket": ticket,
        "link": link,
        "address": address,
        "on_this_machine_only": not public_address_of(request.shop),
        "qr": segno.make(address, error="m", micro=False).svg_inline(scale=4, border=2, omitsize=True),
        "mail_to": f"mailto:{mail}?subject={quote(subject)}&body={quote(words)}",
        "text_to": f"sms:{phone}?body={quote(words)}",
    }
    return render(request, "portal/link_made.html", context)


@require_POST
@counter_only
def withdraw(request: ShopRequest, number: int, pk: int) -> HttpResponse:
    ticket = ticket_of(request.shop, number)
    link = get_object_or_404(CustomerLink.objects.select_related("ticket"), pk=pk, ticket=ticket)
    if withdraw_link(link=link, by=request.user):
        messages.success(request, "The customer’s link is withdrawn. Whoever opens it is asked to call.")
    return redirect("counter:ticket", number=number)
