"""What can be said of an email address while somebody types it."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.core.validators import validate_email

from workshop.customers.models import Customer
from workshop.searching.candidates import WantedWords, candidates, holding
from workshop.searching.sources import CUSTOMER
from workshop.staff.models import Shop
from workshop.web.folding import fold

LONGEST = 254
_MOST = 20


def said_of_email(shop: Shop, typed: str) -> str:
    """Why it cannot be an address, or whose it is already; "" where nothing is to be said. One or two queries."""
    text = typed.strip()
    if not text:
        return ""
    try:
        validate_email(text)
    except ValidationError:
        return "That is no whole email address yet: it needs a name, an @ and a domain, as in name@example.org."
    if len(text) > LONGEST:
        return f"Keep it to {LONGEST} characters."
    keys = candidates([holding(CUSTOMER, shop.pk, WantedWords.of((fold(text),)), _MOST)]).get(CUSTOMER.kind, [])
    known = [one for one in Customer.objects.filter(pk__in=keys).only("name", "email") if fold(one.email) == fold(text)]
    return f"On record: {', '.join(map(str, known[:3]))} has this address." if known else ""
