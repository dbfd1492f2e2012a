"""What a customer or a bike can be found by, folded into one line."""

from __future__ import annotations

from workshop.customers.models import Bike, Customer
from workshop.web.folding import digits, fold


def customer_search_text(customer: Customer) -> str:
    return fold(customer.name, customer.email, digits(customer.phone))


def bike_search_text(bike: Bike) -> str:
    return fold(bike.description, bike.frame_number)
