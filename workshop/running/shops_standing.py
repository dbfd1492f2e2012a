"""How each shop of a database stands, for whoever runs the machine: counts and days, nothing of its customers."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db.models import Count, Max, Q, QuerySet

from workshop.issued.models import Document
from workshop.reminders.models import Message
from workshop.running.logs import last_error_of_shops
from workshop.staff.models import Shop, User
from workshop.staff.stopped_shops import state_words
from workshop.tickets.models import Photo, Ticket

_BACK = (Message.State.FAILED, Message.State.UNCERTAIN)


@dataclass(frozen=True)
class ShopLine:
    """A shop as its operator sees it; moments are None where there was none.

    `files` are photos and issued papers; `last_error` is of this machine's own log.
    """

    number: int
    name: str
    state: str
    people: int
    open_tickets: int
    last_sign_in: dt.datetime | None
    files: int
    last_sent: dt.datetime | None
    last_returned: dt.datetime | None
    last_error: dt.datetime | None


def lines_of_shops() -> list[ShopLine]:
    """Every shop, by its number, in a number of queries that does not grow with them."""
    people = _by_shop(User.objects.filter(shop__isnull=False), "shop", n=Count("pk", filter=Q(is_active=True)),
                      seen=Max("last_login"))  # fmt: skip
    tickets = _by_shop(Ticket.objects.open(), "shop", n=Count("pk"))
    photos = _by_shop(Photo.objects.all(), "ticket__shop", n=Count("pk"))
    papers = _by_shop(Document.objects.exclude(pdf=""), "ticket__shop", n=Count("pk"))
    mail = _by_shop(Message.objects.all(), "shop", sent=Max("sent_at"),
                    back=Max("claimed_at", filter=Q(state__in=_BACK)))  # fmt: skip
    errors = last_error_of_shops(Path(settings.DATA_DIR) / "errors.jsonl")
    return [
        ShopLine(
            number=shop.pk,
            name=shop.name,
            state=state_words(shop),
            people=people.get(shop.pk, {}).get("n", 0),
            open_tickets=tickets.get(shop.pk, {}).get("n", 0),
            last_sign_in=people.get(shop.pk, {}).get("seen"),
            files=photos.get(shop.pk, {}).get("n", 0) + papers.get(shop.pk, {}).get("n", 0),
            last_sent=mail.get(shop.pk, {}).get("sent"),
            last_returned=mail.get(shop.pk, {}).get("back"),
            last_error=errors.get(shop.pk),
        )
        for shop in Shop.objects.order_by("pk")
    ]


def _by_shop(rows: QuerySet[Any], way: str, **sums: Any) -> Mapping[int, dict[str, Any]]:
    return {row[way]: row for row in rows.order_by().values(way).annotate(**sums)}
