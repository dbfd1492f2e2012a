"""How the shop tells that something is ready: its own wording, with fields in braces."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal

from django.db import transaction
from django.utils.translation import gettext, gettext_noop, npgettext

from workshop.charges.ticket_charges import charges_of
from workshop.reminders.models import ReadyText
from workshop.reminders.text import check_text, fill
from workshop.staff.models import Shop
from workshop.tickets.models import Ticket
from workshop.web.number_words import shop_money
from workshop.web.versions import take_version

FIELDS: Mapping[str, str] = {
    "customer": "the customer’s name",
    "unit": "maker and model of the fork or shock; all that is ready where several came in together",
    "is": "“is”, or “are” where several came in together",
    "ticket": "the number of the ticket",
    "price": "the total to pay, such as “115.00 EUR”; without a price, that you tell it at the counter",
    "open": "a sentence on when you are open, from the hours below; nothing where you entered none",
    "shop": "the shop’s name",
    "phone": "the shop’s phone number",
}
DEFAULT_SUBJECT = gettext_noop("Your {unit} {is} ready")
DEFAULT_BODY = gettext_noop("""Dear {customer},

Your {unit} {is} ready: {price}. {open}

Thank you for your trust.

Kind regards,
{shop}
{phone}""")
DEFAULT_TEXT = gettext_noop("{shop}: your {unit} {is} ready, {price}. {open}")
NO_PRICE = gettext_noop("we will tell you the price at the counter")
DO_NOT_RIDE = gettext_noop(
    "Do not ride it as it is: something dangerous was found on it and not put right. We will show you."
)
DO_NOT_RIDE_OF = gettext_noop(
    "Do not ride the {unit} as it is: something dangerous was found on it and not put right. We will show you."
)
NOT_READY_YET = gettext_noop("Not ready yet: {unit}.")


def ready_text_of(shop: Shop) -> ReadyText:
    """The shop's text; the usual one, not saved, where the shop has none of its own."""
    own = ReadyText.objects.filter(shop=shop).first()
    usual = {"subject": gettext(DEFAULT_SUBJECT), "body": gettext(DEFAULT_BODY), "text": gettext(DEFAULT_TEXT)}
    return own or ReadyText(shop=shop, version=0, **usual)


def price_of_ready(tickets: Sequence[Ticket]) -> str:
    """What tickets come to together, in words; "" where one is not charged yet or has a line without a price."""
    charges = [charges_of(ticket, used_only=True) for ticket in tickets]
    if any(one.unpriced or not one.lines for one in charges):
        return ""
    return shop_money(sum((one.gross for one in charges), Decimal(0)), tickets[0].shop)


def ready_values(tickets: Sequence[Ticket], *, open_words: str, price: str) -> dict[str, str]:
    """The fields of what is ready of one customer."""
    first = tickets[0]
    return {
        "customer": first.customer.name,
        "unit": all_of([ticket.unit.title for ticket in tickets]),
        "is": npgettext("ready", "is", "are", len(tickets)),
        "ticket": all_of([str(ticket.number) for ticket in tickets]),
        "price": price or gettext(NO_PRICE),
        "open": open_words,
        "shop": first.shop.name,
        "phone": first.shop.phone,
    }


def all_of(words: Sequence[str]) -> str:
    """“one”, “one and two”, “one, two and three”."""
    if not words[:-1]:
        return words[-1]
    return gettext("%(earlier)s and %(last)s") % {"earlier": ", ".join(words[:-1]), "last": words[-1]}


def fill_ready(text: str, values: Mapping[str, str]) -> str:
    """The text with its fields filled in, without the blanks that an empty field leaves. Raises TextRefused."""
    filled = fill(text, values, fields=FIELDS)
    return "\n".join(" ".join(line.split()) for line in filled.strip().splitlines())


@transaction.atomic
def edit_ready_text(
    *, shop: Shop, seen_version: int, subject: str, body: str, text: str, unreached_days: int
) -> ReadyText:
    """Replace the shop's wording and the days after which somebody counts as not reached.

    Raises:
        StaleVersion: somebody changed it meanwhile.
        ValidationError: the days are not from 1 to 60.
        workshop.reminders.text.TextRefused: an unknown field or a lone brace.
    """
    for wording in (subject, body, text):
        check_text(wording, fields=FIELDS)
    stored, _ = ReadyText.objects.get_or_create(
        shop=shop, defaults={"subject": DEFAULT_SUBJECT, "body": DEFAULT_BODY, "text": DEFAULT_TEXT, "version": 0}
    )
    take_version(stored, seen_version)
    stored.subject, stored.body, stored.text, stored.unreached_days = subject, body, text, unreached_days
    stored.full_clean(exclude=["shop"])
    stored.save()
    return stored
