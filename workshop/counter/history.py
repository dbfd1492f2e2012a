"""What a customer, bike or unit has been through."""

from __future__ import annotations

from typing import Any

from django.core.paginator import Page, Paginator
from django.db.models import Prefetch

from workshop.customers.models import Bike, Customer
from workshop.suspension.models import Fitting, SuspensionUnit
from workshop.tickets.models import Ticket

PER_PAGE = 25


def tickets_of(*, page: str | None, **of: Any) -> Page[Ticket]:
    """A page of the tickets of a customer, bike or unit of the shop, the newest first.

    The shop is not asked for again: SQLite would go through all its tickets for it.
    """
    tickets = Ticket.objects.with_names().filter(**of).order_by("-number")
    return Paginator(tickets, PER_PAGE).get_page(page)


def units_with_fittings(customer: Customer) -> list[SuspensionUnit]:
    """A customer's units, each with `fitted`: its present fitting in a list of one or none."""
    present = Prefetch("fittings", Fitting.objects.filter(until__isnull=True).select_related("bike"), to_attr="fitted")
    return list(customer.units.select_related("model").prefetch_related(present).order_by("-pk"))


def bikes_with_units(customer: Customer) -> list[Bike]:
    """A customer's bikes, each with `carrying`: the present fittings on it."""
    present = Prefetch(
        "fittings", Fitting.objects.filter(until__isnull=True).select_related("unit__model"), to_attr="carrying"
    )
    return list(customer.bikes.prefetch_related(present))
