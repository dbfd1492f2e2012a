"""The language in which a customer is written to."""

from __future__ import annotations

from contextlib import AbstractContextManager

from workshop.customers.models import Customer
from workshop.web.languages import known_language, speaking


def language_of(customer: Customer) -> str:
    """The code of it: the customer's where one is chosen and the app has it, else the shop's."""
    return known_language(customer.papers_language)


def speaking_to(customer: Customer) -> AbstractContextManager[None]:
    """Inside, sentences are made in the customer's language."""
    return speaking(language_of(customer))
