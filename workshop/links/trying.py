"""How many links that open nothing may be tried from one address. Nobody finds one by trying: this keeps it cheap.

Where an address has to wait, a link that exists is answered like one that does not, but for one that was opened from
there before: where many customers come by one address, a stranger among them closes nobody's page.
"""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.http import HttpRequest
from django.utils import timezone
from django.utils.crypto import salted_hmac

from workshop.links.links import LinkEnded, NoSuchLink, note_opened, open_link
from workshop.links.models import CustomerLink, WrongLink
from workshop.staff.address import throttled_address
from workshop.staff.stopped_shops import refuse_stopped

MOST_WRONG = 20
WAIT = dt.timedelta(minutes=15)


class TooManyTried(LookupError):
    """So many links from this address opened nothing that it has to wait; `until` says when it may go on."""

    def __init__(self, until: dt.datetime) -> None:
        super().__init__("Too many links from this address opened nothing.")
        self.until = until

    @property
    def seconds(self) -> int:
        return max(1, int((self.until - timezone.now()).total_seconds()))

    @property
    def minutes(self) -> int:
        return -(-self.seconds // 60)


def where_from(request: HttpRequest) -> str:
    """What tries are counted by: a keyed digest of the address that sign-ins are counted by, so none is kept."""
    return salted_hmac("workshop.links.trying", throttled_address(request)).hexdigest()


def open_link_from(secret: str, *, where: str, seen: bool) -> CustomerLink:
    """The link with this secret; `seen` notes that the customer has looked, and from where.

    Raises:
        NoSuchLink: no link has this secret; it is counted.
        workshop.links.links.LinkEnded: it was withdrawn or has expired.
        TooManyTried: the address has to wait.
        workshop.staff.stopped_shops.ShopStopped: the shop is suspended or closed.
    """
    try:
        link = open_link(secret)
    except NoSuchLink:
        count_wrong(where)
        raise
    except LinkEnded as ended:
        if ended.link.opened_from != where:
            _check_wait(where)
        raise
    if link.opened_from != where:
        _check_wait(where)
    refuse_stopped(link.ticket.shop)
    if seen:
        note_opened(link, where)
    return link


@transaction.atomic
def count_wrong(where: str) -> None:
    """Count a link that opened nothing. Raises TooManyTried, and counts nothing, where the address has to wait."""
    _check_wait(where)
    now = timezone.now()
    WrongLink.objects.exclude(at__gt=now - WAIT, at__lte=now).delete()
    WrongLink.objects.create(from_where=where, at=now)


def _check_wait(where: str) -> None:
    now = timezone.now()
    recent = WrongLink.objects.filter(from_where=where, at__gt=now - WAIT, at__lte=now).order_by("-at")
    tried = list(recent.values_list("at", flat=True)[:MOST_WRONG])
    if len(tried) == MOST_WRONG:
        raise TooManyTried(tried[-1] + WAIT)
