"""Changes to the shop's wording and figures; two people at one record never overwrite each other."""

from __future__ import annotations

from django.db import transaction

from workshop.intervals.models import IntervalPolicy
from workshop.reminders.models import ReminderText
from workshop.reminders.text import DEFAULT_BODY, DEFAULT_SUBJECT, check_text
from workshop.staff.models import Shop
from workshop.web.versions import take_version


@transaction.atomic
def edit_text(*, shop: Shop, seen_version: int, subject: str, body: str) -> ReminderText:
    """Replace the shop's wording.

    Raises:
        StaleVersion: somebody changed it meanwhile.
        workshop.reminders.text.TextRefused: an unknown field or a lone brace.
    """
    check_text(subject)
    check_text(body)
    text, _ = ReminderText.objects.get_or_create(
        shop=shop, defaults={"subject": DEFAULT_SUBJECT, "body": DEFAULT_BODY, "version": 0}
    )
    take_version(text, seen_version)
    text.subject, text.body = subject, body
    text.full_clean(exclude=["shop"])
    text.save()
    return text


@transaction.atomic
def edit_figures(
    *,
    shop: Shop,
    seen_version: int,
    wet_factor: float,
    dusty_factor: float,
    said_hours_spread: float,
    coming_up_days: int,
) -> IntervalPolicy:
    """Replace the owner's figures for forecasts. Raises StaleVersion or ValidationError."""
    policy, _ = IntervalPolicy.objects.get_or_create(shop=shop, defaults={"version": 0})
    take_version(policy, seen_version)
    policy.wet_factor, policy.dusty_factor = wet_factor, dusty_factor
    policy.said_hours_spread, policy.coming_up_days = said_hours_spread, coming_up_days
    policy.full_clean(exclude=["shop"])
    policy.save()
    return policy


def figures_record(shop: Shop) -> IntervalPolicy:
    """The owner's figures; the usual ones, not saved, where the owner has set none."""
    return IntervalPolicy.objects.filter(shop=shop).first() or IntervalPolicy(shop=shop, version=0)
