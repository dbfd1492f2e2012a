"""Stopping reminders from a letter or an email, without a login."""

from __future__ import annotations

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods

from workshop.customers.language import speaking_to
from workshop.links.trying import TooManyTried, count_wrong, where_from
from workshop.portal.views import too_many_tried
from workshop.reminders.opt_out import ForgedLink, customer_of, stop_reminders


@csrf_exempt  # a mail program posts here without a page of ours (RFC 8058); the signed address is the proof
@login_not_required
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def stop(request: HttpRequest, token: str) -> HttpResponse:
    """Ask on GET, because mail scanners open every link; stop on POST. Stopping twice is harmless."""
    try:
        customer = customer_of(token)
    except ForgedLink:
        try:
            count_wrong(where_from(request))
        except TooManyTried as waiting:
            return too_many_tried(request, waiting)
        return render(request, "portal/no_such_link.html", status=404)
    stopped = request.method == "POST"
    if stopped:
        stop_reminders(customer=customer)
    context = {"shop": customer.shop, "shop_name": customer.shop.name, "token": token, "stopped": stopped}
    with speaking_to(customer):
        return render(request, "portal/stop.html", {**context, "is_on": customer.agreed_to_reminders})
