"""A reminder for one unit in the shop's words, ready to be read and edited."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.utils.formats import date_format
from django.utils.translation import gettext

from workshop.customers.language import speaking_to
from workshop.intervals.forecast import Forecast, ServiceStanding
from workshop.intervals.models import Level
from workshop.reminders.due import DueRow
from workshop.reminders.models import ReminderText
from workshop.reminders.text import DEFAULT_BODY, DEFAULT_SUBJECT, fill
from workshop.staff.models import Shop
from workshop.web.plain_text import one_line

LONGEST_SUBJECT = 200


@dataclass(frozen=True)
class Draft:
    """What the owner reads before it goes out."""

    subject: str
    body: str


def text_of(shop: Shop) -> ReminderText:
    """The shop's text; the usual one, not saved, where the shop has none of its own."""
    own = ReminderText.objects.filter(shop=shop).first()
    return own or ReminderText(shop=shop, subject=DEFAULT_SUBJECT, body=DEFAULT_BODY, version=0)


def draft_for(row: DueRow, text: ReminderText, today: dt.date) -> Draft:
    """The shop's text filled in for one unit; in the customer's language where the shop has no text of its own."""
    with speaking_to(row.customer):
        values = values_for_reminder(row, text.shop, today)
        is_own = text.pk is not None
        subject, body = (text.subject, text.body) if is_own else (gettext(DEFAULT_SUBJECT), gettext(DEFAULT_BODY))
    return Draft(one_line(fill(subject, values))[:LONGEST_SUBJECT], fill(body, values))


def values_for_reminder(row: DueRow, shop: Shop, today: dt.date) -> dict[str, str]:
    """The fields of a reminder."""
    return {
        "customer": row.customer.name,
        "unit": row.unit.title,
        "bike": gettext("your %(bike)s") % {"bike": row.bike} if row.bike else gettext("your bike"),
        "service": row.service_words,
        "due": _all_due(row, today),
        "reason": row.first.explanation.replace("the customer’s", "your").replace("our estimate of", "about"),
        "shop": shop.name,
        "phone": shop.phone or gettext("the number you know"),
    }


def _all_due(row: DueRow, today: dt.date) -> str:
    """When the first is due, and then each of the others with its name."""
    words = due_words(row.first, today)
    for other in row.others:
        values = {"earlier": words, "service": _name(other), "due": due_words(other, today)}
        words = gettext("%(earlier)s, and for its %(service)s %(due)s") % values
    return words


def _name(forecast: Forecast) -> str:
    return Level(forecast.level).label.lower()


def due_words(forecast: Forecast, today: dt.date) -> str:
    """When, in a sentence: “since 3 May”, “by 20 June”, “between 3 and 20 June”."""
    if forecast.standing == ServiceStanding.OVERDUE or forecast.latest <= today:
        return gettext("since %(day)s") % {"day": _day(forecast.due, today)}
    if not forecast.is_a_range or forecast.earliest <= today:
        return gettext("by %(day)s") % {"day": _day(forecast.latest, today)}
    days = {"earliest": _day(forecast.earliest, today), "latest": _day(forecast.latest, today)}
    return gettext("between %(earliest)s and %(latest)s") % days


def _day(day: dt.date, today: dt.date) -> str:
    """“3 June”, with the year where it is not this one, in the customer's language."""
    return str(date_format(day, "j F" if day.year == today.year else "j F Y"))
