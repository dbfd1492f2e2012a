"""Whether somebody is a customer already, so that nobody is kept twice."""

from __future__ import annotations

from django.core.exceptions import ValidationError

from workshop.customers.models import Customer
from workshop.searching.candidates import WantedWords, candidates, holding
from workshop.searching.sources import CUSTOMER
from workshop.staff.models import Shop
from workshop.web.folding import digits

FEWEST_DIGITS = 6
_NATIONAL_DIGITS = 9
_MOST = 20


def national(phone: str) -> str:
    """What stays of a phone number without the country's prefix or the leading 0: its last nine digits."""
    return digits(phone).lstrip("0")[-_NATIONAL_DIGITS:]


def of_that_phone(shop: Shop, phone: str) -> list[Customer]:
    """The shop's customers with that very number, however it is spaced, with or without the country's prefix."""
    wanted = national(phone)
    if len(wanted) < FEWEST_DIGITS:
        return []
    keys = candidates([holding(CUSTOMER, shop.pk, WantedWords.of((wanted,)), _MOST)]).get(CUSTOMER.kind, [])
    return [one for one in Customer.objects.filter(pk__in=keys) if wanted in map(national, one.phones)]


def refuse_known_phone(*, shop: Shop, phone: str, shared: str = "") -> None:
    """Refuse a new customer with the number of a known one.

    Args:
        shared: the number of which a person said that the new customer shares it.

    Raises:
        ValidationError: beside `phone`, with the code "known_phone".
    """
    known = of_that_phone(shop, phone)
    if known and digits(shared) != digits(phone):
        names = " and ".join(str(one) for one in known[:3])
        raise ValidationError(
            {"phone": ValidationError(
                f"{phone.strip()} is the number of {names}. Choose the known customer, or tick that this is somebody "
                "else with the same number.", code="known_phone",
            )}
        )  # fmt: skip
