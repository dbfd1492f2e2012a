"""The wording of a reminder: a subject and a body with fields in braces."""

from __future__ import annotations

import string
from collections.abc import Mapping

from django.utils.translation import gettext_noop

FIELDS: Mapping[str, str] = {
    "customer": "the customer’s name",
    "unit": "maker and model of the fork or shock",
    "bike": "the bike it is on, or “your bike”",
    "service": "the service that is due",
    "due": "when, such as “by 3 June” or “since 3 May”",
    "reason": "why, such as “62 of 43 h by your 4 h a week since 3 June”",
    "shop": "the shop’s name",
    "phone": "the shop’s phone number",
}
DEFAULT_SUBJECT = gettext_noop("Your {unit} is due for its service")
DEFAULT_BODY = gettext_noop("""Dear {customer},

Your {unit} on {bike} is due for its {service}, {due}. By our count that is {reason}.

Old oil and dirty seals wear it from the inside, and the damage is expensive by the time you notice it. A service in time prevents that.

Call us on {phone} and we will find a day for it. Thank you for riding with us.

Kind regards,
{shop}""")  # noqa: E501  a paragraph is one line, so that the reader's screen wraps it


class TextRefused(ValueError):
    """That a text cannot be used; the message names what to put right."""


def check_text(text: str, *, fields: Mapping[str, str] = FIELDS) -> None:
    """Raise TextRefused for a field that is none of `fields`, a lone brace or anything but a plain field in braces."""
    try:
        parts = list(string.Formatter().parse(text))
    except ValueError:
        raise TextRefused("There is a lone brace. Write {customer} for a field, and {{ or }} for a brace.") from None
    for _, name, spec, conversion in parts:
        if name is None:
            continue
        if name not in fields or spec or conversion:
            shown = f"{{{name}}}"
            raise TextRefused(f"There is no field {shown}. Use {', '.join(f'{{{field}}}' for field in fields)}.")


def fill(text: str, values: Mapping[str, str], *, fields: Mapping[str, str] = FIELDS) -> str:
    """The text with its fields filled in. Values are taken as they are: braces in them mean nothing.

    Raises:
        TextRefused: see check_text.
        KeyError: a field has no value.
    """
    check_text(text, fields=fields)
    return "".join(
        before + ("" if name is None else values[name]) for before, name, _, _ in string.Formatter().parse(text)
    )
