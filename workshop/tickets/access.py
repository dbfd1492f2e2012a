"""Fetching a ticket and checking the right to it are one function, so that no view can forget the check."""

from __future__ import annotations

from django.db.models import QuerySet
from django.shortcuts import get_object_or_404

from workshop.staff.models import Shop
from workshop.tickets.models import Ticket


def ticket_of(shop: Shop, number: int, queryset: QuerySet[Ticket] | None = None) -> Ticket:
    """The shop's ticket of that number, with the names a page shows. Raises Http404."""
    tickets = Ticket.objects.with_names() if queryset is None else queryset
    ticket = get_object_or_404(tickets, shop=shop, number=number)
    ticket.shop = shop  # known already, and as wide as the rest together
    return ticket
