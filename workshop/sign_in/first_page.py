"""Where somebody's day starts: at the first of their roles that has work."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from django.db.models import Q
from django.utils import timezone

from workshop.staff.models import User
from workshop.staff.roles import kinds_of
from workshop.tickets.models import Ticket

State = Ticket.State


def first_page_of(user: User) -> str:
    """The page that one role starts with, or of several the first with work: bench, counter, office; without any the
    first role's own. A person of one role is asked nothing.
    """
    pages = [kind.first_page for kind in kinds_of(user.roles)]
    if len(pages) > 1:
        busy = (page for page, has_work in _HAS_WORK.items() if page in pages and has_work(user))
        return next(busy, pages[0])
    return pages[0]


def _is_at_work(user: User) -> bool:
    """Something on the bench is theirs."""
    return Ticket.objects.filter(shop=user.shop_id, mechanic=user, state=State.ON_THE_BENCH).exists()


def _somebody_comes(user: User) -> bool:
    """Something is ready, waits for its customer, or is promised for today or earlier."""
    asks = Q(state=State.READY) | Q(state=State.WAITING, waiting_for=Ticket.WaitingFor.CUSTOMER)
    due = Q(state__in=Ticket.OPEN_STATES, promised_on__lte=timezone.localdate())
    return Ticket.objects.filter(asks | due, shop=user.shop_id).exists()


def _always(user: User) -> bool:
    """The overview says what is to be done, also where it is nothing."""
    return True


_HAS_WORK: Mapping[str, Callable[[User], bool]] = {
    "bench:board": _is_at_work,
    "counter:today": _somebody_comes,
    "office:overview": _always,
}
