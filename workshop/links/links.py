"""Links for customers: made, opened, withdrawn."""

from __future__ import annotations

import datetime as dt
import hashlib
import secrets

from django.db import transaction
from django.utils import timezone

from workshop.links.models import CustomerLink
from workshop.staff.models import User
from workshop.tickets.logbook import log
from workshop.tickets.models import Ticket

LASTS_DAYS = 90
_SECRET_BYTES = 32


class NoSuchLink(LookupError):
    """No link has this secret: it was mistyped, cut short or made up."""


class LinkEnded(LookupError):
    """The link was withdrawn or has expired; `link` says which shop to ask."""

    def __init__(self, link: CustomerLink) -> None:
        super().__init__("The link was withdrawn." if link.withdrawn_at else "The link has expired.")
        self.link = link


@transaction.atomic
def make_link(*, ticket: Ticket, by: User | None, days: int = LASTS_DAYS) -> tuple[CustomerLink, str]:
    """Make a link and return it with its secret, which is kept nowhere: who loses it gets a new link."""
    secret = secrets.token_urlsafe(_SECRET_BYTES)
    now = timezone.now()
    link = CustomerLink.objects.create(
        ticket=ticket, secret_digest=_digest(secret), made_at=now, made_by=by, expires_at=now + dt.timedelta(days=days)
    )
    log(ticket=ticket, by=by, kind="link_made", values={"days": days})
    return link, secret


@transaction.atomic
def withdraw_link(*, link: CustomerLink, by: User | None) -> bool:
    """End a link at once. Returns whether it was still good."""
    ended = CustomerLink.objects.filter(pk=link.pk, withdrawn_at__isnull=True).update(
        withdrawn_at=timezone.now(), withdrawn_by=by
    )
    if ended:
        log(ticket=link.ticket, by=by, kind="link_withdrawn")
    return bool(ended)


def note_opened(link: CustomerLink, where: str) -> None:
    """The customer has looked; `where` is a digest of where from."""
    CustomerLink.objects.filter(pk=link.pk).update(last_opened_at=timezone.now(), opened_from=where)


def open_link(secret: str) -> CustomerLink:
    """The link with this secret, with its ticket.

    Raises:
        NoSuchLink: no link has this secret.
        LinkEnded: it was withdrawn or has expired.
    """
    try:
        link = CustomerLink.objects.select_related(
            "ticket__shop", "ticket__customer", "ticket__unit__model", "ticket__unit__shop", "ticket__bike"
        ).get(secret_digest=_digest(secret))
    except CustomerLink.DoesNotExist:
        raise NoSuchLink from None
    if link.withdrawn_at is not None or link.is_expired:
        raise LinkEnded(link)
    return link


def _digest(secret: str) -> str:
    """A secret of 256 random bits needs no salt and no slow hash."""
    return hashlib.sha256(secret.encode()).hexdigest()
