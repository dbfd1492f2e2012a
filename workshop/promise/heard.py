"""What the counter heard about the earliest honest day at booking stays with the ticket."""

from __future__ import annotations

from django.utils import timezone

from workshop.promise.honest import HonestDay
from workshop.promise.models import PromiseHeard
from workshop.tickets.models import Ticket


def keep_heard(*, ticket: Ticket, honest: HonestDay) -> PromiseHeard:
    """Keep it in the transaction that books the ticket in; a form that is sent twice keeps the first."""
    told = {"earliest_on": honest.day, "reasons": list(honest.reasons), "at": timezone.now()}
    heard, _ = PromiseHeard.objects.get_or_create(ticket=ticket, defaults=told)
    return heard
