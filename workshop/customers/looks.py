"""Who of the shop opened a customer's page, for its owner."""

from __future__ import annotations

import datetime as dt
import logging

from django.db import DatabaseError
from django.db.models import Q, QuerySet
from django.utils import timezone

from workshop.customers.models import Customer
from workshop.customers.privacy_models import RecordLook
from workshop.staff.models import User

KEPT_DAYS = 2 * 365

logger = logging.getLogger(__name__)


def note_look(customer: Customer, by: User) -> None:
    """Once a day for each person. A page that only shows is shown also where nothing can be written down."""
    look = RecordLook(customer=customer, by=by, on=timezone.localdate())
    try:
        RecordLook.objects.bulk_create([look], ignore_conflicts=True)
    except DatabaseError as problem:
        logger.warning("Who looked at a customer could not be recorded: %s", problem)


def looks_at(customer: Customer) -> QuerySet[RecordLook]:
    """The newest first, those at records that were merged into this one too."""
    records = Customer.with_merged.filter(Q(pk=customer.pk) | Q(merged_into=customer))
    return RecordLook.objects.filter(customer__in=records).select_related("by")


def forget_old_looks(today: dt.date) -> int:
    """Nobody asks after two years; returns how many went."""
    gone, _ = RecordLook.objects.filter(on__lt=today - dt.timedelta(days=KEPT_DAYS)).delete()
    return gone
