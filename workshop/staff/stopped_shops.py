"""A shop that its operator suspended, so that nobody of it gets in until it is resumed, or closed for good.

What was there stays: sessions, short codes, devices and links are refused meanwhile, and work again afterwards.
"""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.db.models import F
from django.utils import timezone

from workshop.staff.models import Shop
from workshop.staff.security_log import Did, WhereFrom, note


class ShopStopped(Exception):
    """Somebody wants to enter a shop that is suspended or closed."""

    def __init__(self, shop: Shop) -> None:
        super().__init__(stopped_words(shop))
        self.shop = shop


class CannotStop(ValueError):
    """The shop is not in the state that this asks for; the message says which. Nothing was changed."""


def refuse_stopped(shop: Shop | None) -> None:
    """Raise ShopStopped where the shop is suspended or closed; somebody without a shop enters nowhere anyway."""
    if shop is not None and shop.is_stopped:
        raise ShopStopped(shop)


def stopped_words(shop: Shop) -> str:
    """What its own people are told."""
    if shop.closed_at is not None:
        return "It was closed for good by whoever runs the computer it is on. Ask them for what it holds."
    return (
        "It was suspended by whoever runs the computer it is on: ask them. Nothing is lost, and what waits on a tablet "
        "stays there and is sent once the shop is resumed."
    )


@transaction.atomic
def suspend_shop(*, shop: Shop, who: str, why: str) -> None:
    """Let nobody of it in from now on. `who` is the operator, for the security log.

    Raises:
        CannotStop: it is suspended or closed already.
    """
    held = _held(shop)
    if held.is_stopped:
        raise CannotStop(f"{held} is {state_words(held)} already.")
    note(shop=held, did=Did.SHOP_SUSPENDED, by=None, place=WhereFrom(), who=who, why=why or "no reason given")
    _keep(shop, suspended_at=timezone.now())


@transaction.atomic
def resume_shop(*, shop: Shop, who: str) -> None:
    """Take a suspension back: whatever opened the shop before opens it again.

    Raises:
        CannotStop: it is not suspended, or was closed since.
    """
    held = _held(shop)
    if held.closed_at is not None:
        raise CannotStop(f"{held} is {state_words(held)}, for good: that is not taken back.")
    if held.suspended_at is None:
        raise CannotStop(f"{held} is not suspended.")
    note(shop=held, did=Did.SHOP_RESUMED, by=None, place=WhereFrom(), who=who)
    _keep(shop, suspended_at=None)


@transaction.atomic
def close_shop_for_good(*, shop: Shop, who: str, file: str) -> None:
    """End a shop that is suspended; nothing of it is deleted. `file` has everything of it.

    Raises:
        CannotStop: it is not suspended, or was closed before.
    """
    held = _held(shop)
    check_may_close(held)
    note(shop=held, did=Did.SHOP_CLOSED, by=None, place=WhereFrom(), who=who, file=file)
    _keep(shop, closed_at=timezone.now())


def check_may_close(shop: Shop) -> None:
    """Raise CannotStop unless the shop is suspended and not closed yet."""
    if shop.closed_at is not None:
        raise CannotStop(f"{shop} is {state_words(shop)} already.")
    if shop.suspended_at is None:
        raise CannotStop(f"{shop} is open. Suspend it first: python3 manage.py suspend_shop {shop.pk}")


def state_words(shop: Shop) -> str:
    """“open”, “suspended since 3 Nov 2026” or “closed since 3 Nov 2026”."""
    if shop.closed_at is not None:
        return f"closed since {_day(shop.closed_at)}"
    return f"suspended since {_day(shop.suspended_at)}" if shop.suspended_at is not None else "open"


def _day(at: dt.datetime) -> str:
    return f"{timezone.localtime(at):%-d %b %Y}"


def _held(shop: Shop) -> Shop:
    """Its row as it is now, until the transaction ends."""
    return Shop.objects.select_for_update(no_key=True).get(pk=shop.pk)


def _keep(shop: Shop, **state: dt.datetime | None) -> None:
    """With a new version, so that settings which were opened before are not saved over it."""
    Shop.objects.filter(pk=shop.pk).update(version=F("version") + 1, **state)
    shop.refresh_from_db()
