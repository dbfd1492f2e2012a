"""What a customer or a bike can be found by, folded into one line."""

from __future__ import annotations

from workshop.customers.models import Bike, Customer
from workshop.web.folding import digits, fold


def customer_search_text(customer: Customer) -> str:
    """A phone number stands in it as one word, so that it is found by its ending.

    Of a customer on record, one query: they are found by what was written in records merged into theirs, too.
    """
    records = [customer]
    if customer.pk is not None:
        records += Customer.with_merged.filter(merged_into=customer).order_by("pk")
    return " ".join(fold(one.name, one.contact_person, one.email, *map(digits, one.phones)) for one in records)


def bike_search_text(bike: Bike) -> str:
    return fold(bike.description, bike.frame_number)
