"""A reminder for one unit in the shop's words, ready to be read and edited."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from workshop.intervals.forecast import Forecast, ServiceStanding, day_words
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
    """The shop's text filled in for one unit."""
    values = values_for_reminder(row, text.shop, today)
    return Draft(one_line(fill(text.subject, values))[:LONGEST_SUBJECT], fill(text.body, values))


def values_for_reminder(row: DueRow, shop: Shop, today: dt.date) -> dict[str, str]:
    """The fields of a reminder."""
    return {
        "customer": row.customer.name,
        "unit": row.unit.title,
        "bike": f"your {row.bike}" if row.bike else "your bike",
        "service": row.service_words,
        "due": ", and for its ".join(
            [due_words(row.first, today), *(f"{_name(other)} {due_words(other, today)}" for other in row.others)]
        ),
        "reason": row.first.explanation.replace("the customer’s", "your").replace("our estimate of", "about"),
        "shop": shop.name,
        "phone": shop.phone or "the number you know",
    }


def _name(forecast: Forecast) -> str:
    return Level(forecast.level).label.lower()


def due_words(forecast: Forecast, today: dt.date) -> str:
    """When, in a sentence: “since 3 May”, “by 20 June”, “between 3 and 20 June”."""
    if forecast.standing == ServiceStanding.OVERDUE or forecast.latest <= today:
        return f"since {day_words(forecast.due, today)}"
    if not forecast.is_a_range or forecast.earliest <= today:
        return f"by {day_words(forecast.latest, today)}"
    return f"between {day_words(forecast.earliest, today)} and {day_words(forecast.latest, today)}"
