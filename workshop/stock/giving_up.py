"""Which open tickets keep no parts, or stand behind the others, by what the customer said or did not say."""

from __future__ import annotations

import datetime as dt

from django.db.models import F
from django.utils import timezone

from workshop.charges.models import Agreement
from workshop.staff.models import Shop
from workshop.tickets.models import Ticket


def keep_nothing(shop: Shop) -> set[int]:
    """Open tickets of which nothing that costs is agreed since the customer said no; one query.

    With a price ceiling, or a yes to another estimate that stands, their parts stay kept.
    """
    answers = Agreement.objects.filter(
        ticket__shop=shop, ticket__state__in=Ticket.OPEN_STATES, ticket__price_ceiling__isnull=True
    )
    standing: dict[int, dict[int, bool]] = {}
    # Put in order here: asked for in order, a database reads every answer there ever was for those of open tickets.
    for _, ticket, document, agreed in sorted(answers.order_by().values_list("pk", "ticket", "document", "agreed")):
        standing.setdefault(ticket, {})[document] = agreed
    return {ticket for ticket, its in standing.items() if not any(its.values())}


def stand_behind(shop: Shop) -> set[int]:
    """Tickets that waited for the customer’s answer longer than the owner lets them keep their parts.

    One query, none where they keep them as long as it takes. An answer, also one that is not gone on with yet, gives
    them their place back.
    """
    if shop.waiting_keeps_days is None:
        return set()
    waiting = Ticket.objects.filter(
        shop=shop,
        state=Ticket.State.WAITING,
        waiting_for=Ticket.WaitingFor.CUSTOMER,
        state_since__lt=timezone.now() - dt.timedelta(days=shop.waiting_keeps_days),
    )
    answered = Agreement.objects.filter(ticket__in=waiting, at__gte=F("ticket__state_since")).values("ticket")
    return set(waiting.exclude(pk__in=answered).values_list("pk", flat=True))
