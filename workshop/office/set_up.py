"""The set-up guide: what a shop still wants before its first day, read from what is true and from no stored tick.

What only the owner decides is stored: which steps wait for later, and that the guide was left.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from django.db import transaction
from django.utils import timezone

from specs.models import SpecValue
from workshop.charges.models import ServicePrice, TaxRules
from workshop.customers.models import Customer
from workshop.promise.models import OpeningHours
from workshop.reminders.delivery import why_no_mail
from workshop.reminders.mail_models import MailSettings
from workshop.reminders.mail_setting import set_by_server
from workshop.reminders.models import Message
from workshop.running.backup_place import backup_place, shares_disk
from workshop.running.backups_standing import BACKUP_EVERY
from workshop.running.keeping import made_at
from workshop.running.second_place import newest_backup
from workshop.signed.standing import unread
from workshop.staff.guide_models import SetUpGuide
from workshop.staff.models import Shop, User
from workshop.stock.models import StockItem
from workshop.till.receipt_settings import receipt_settings_of


@dataclass(frozen=True)
class WayToMend:
    """Something that is wanting, in words, and the page where it is put right."""

    wanting: str
    route: str


@dataclass(frozen=True)
class SetUpStep:
    """A step of the guide: why it is one, and what it still wants; nothing where it is done."""

    key: str
    title: str
    why: str
    ways: Sequence[WayToMend]

    @property
    def is_done(self) -> bool:
        return not self.ways


@dataclass(frozen=True)
class GuideStanding:
    """The steps in their order: to do now, left for later, done."""

    now: list[SetUpStep]
    later: list[SetUpStep]
    done: list[SetUpStep]
    left: bool

    @property
    def in_all(self) -> int:
        return len(self.now) + len(self.later) + len(self.done)


@dataclass(frozen=True)
class _Asked:
    key: str
    title: str
    why: str
    look: Callable[[Shop], list[WayToMend]]


def guide_of(shop: Shop) -> GuideStanding:
    """Every step as it stands now, in a number of queries that does not grow with the shop."""
    guide = SetUpGuide.objects.filter(shop=shop).first()
    later = set(guide.later) if guide else set()
    steps = [SetUpStep(one.key, one.title, one.why, one.look(shop)) for one in _STEPS]
    return GuideStanding(
        now=[one for one in steps if not one.is_done and one.key not in later],
        later=[one for one in steps if not one.is_done and one.key in later],
        done=[one for one in steps if one.is_done],
        left=guide is None or guide.left_at is not None,
    )


def guide_comes_first(shop: Shop) -> bool:
    """Whether the owner's day starts with the guide: one was begun, was not left, and has a step for now."""
    return SetUpGuide.objects.filter(shop=shop, left_at=None).exists() and bool(guide_of(shop).now)


@transaction.atomic
def leave_for_later(*, shop: Shop, key: str, later: bool) -> None:
    """Put a step off, or take it up again. Another owner's choice of another step stays."""
    if key not in {one.key for one in _STEPS}:
        return
    guide = _held(shop)
    kept = [one for one in guide.later if one != key]
    guide.later = [*kept, key] if later else kept
    guide.save(update_fields=["later"])


@transaction.atomic
def leave_guide(*, shop: Shop, left: bool) -> None:
    """Leave the guide, or make it the first page again."""
    guide = _held(shop)
    guide.left_at = timezone.now() if left else None
    guide.save(update_fields=["left_at"])


def note_first_device(shop: Shop) -> None:
    """Another device than the server signed in over HTTPS. Only the first one of a guide is kept."""
    SetUpGuide.objects.filter(shop=shop, device_seen_at=None).update(device_seen_at=timezone.now())


def _held(shop: Shop) -> SetUpGuide:
    Shop.objects.select_for_update().only("pk").get(pk=shop.pk)
    guide, _ = SetUpGuide.objects.get_or_create(shop=shop)
    return guide


def _wanting(*asked: tuple[bool, str, str]) -> list[WayToMend]:
    return [WayToMend(words, route) for is_there, words, route in asked if not is_there]


def _shop(shop: Shop) -> list[WayToMend]:
    settings = "office:shop_settings"
    return _wanting(
        (bool(shop.address), "its address", settings),
        (bool(shop.country), "its country", settings),
        (bool(shop.phone), "a phone number", settings),
        (bool(shop.email), "an email address", settings),
        (shop.time_zone != "UTC", "its time zone", settings),
        (shop.version > 1, "paper, currency and units looked through and saved", settings),
        (OpeningHours.objects.filter(shop=shop).exists(), "opening hours", "office:ready_text"),
        (bool(receipt_settings_of(shop).tax_number), "a tax number, and a logo if it has one", "office:receipts"),
    )


def _people(shop: Shop) -> list[WayToMend]:
    several = User.objects.filter(shop=shop, is_active=True)[:2].count() > 1
    return _wanting((several, "somebody beside you who signs in", "office:staff"))


def _tablets(shop: Shop) -> list[WayToMend]:
    seen = SetUpGuide.objects.filter(shop=shop, device_seen_at__isnull=False).exists()
    return _wanting((seen, "a device other than the server that signed in over HTTPS", "office:tablets"))


def _mail(shop: Shop) -> list[WayToMend]:
    if wanting := why_no_mail(shop, with_link=False):
        return [WayToMend(wanting, "office:mail")]
    arrived = MailSettings.objects.filter(shop=shop, by_server=set_by_server(), arrived_at__isnull=False).exists()
    left = arrived or Message.objects.filter(shop=shop, state=Message.State.SENT).exists()
    return _wanting((left, "a test letter that arrived", "office:mail"))


def _backup(shop: Shop) -> list[WayToMend]:
    place = backup_place()
    newest = None if place.is_away else newest_backup(place.folder)
    when = made_at(newest.name) if newest else None
    if when is None:
        return [WayToMend("a backup that was read back", "office:backups")]
    fresh: dt.timedelta = timezone.now() - when
    return _wanting(
        (not shares_disk(place.folder), "a backup on another disk than the data", "office:backups"),
        (fresh <= BACKUP_EVERY, "a backup every night: the newest is too old", "office:backups"),
    )


def _prices(shop: Shop) -> list[WayToMend]:
    return _wanting(
        (ServicePrice.objects.filter(shop=shop).exists(), "what a service costs", "office:prices"),
        (TaxRules.objects.filter(shop=shop).exists(), "how you are taxed", "office:prices"),
    )


def _model(shop: Shop) -> list[WayToMend]:
    there = SpecValue.objects.filter(is_current=True, withdrawn=False).exists()
    return _wanting((there, "a fork or shock model with its values", "office:specs"))


def _parts(shop: Shop) -> list[WayToMend]:
    return _wanting((StockItem.objects.filter(shop=shop).exists(), "a part in the stores", "stores:add"))


def _moving_in(shop: Shop) -> list[WayToMend]:
    if Customer.objects.filter(shop=shop).exists():
        return []
    return [
        WayToMend("customers, bikes, forks, models with their values, parts and suppliers from files", "office:moving"),
        WayToMend("the first customer", "counter:book_in"),
    ]


def _checklists(shop: Shop) -> list[WayToMend]:
    count = unread(shop).count()
    lists = "checklist" if count == 1 else "checklists"
    return _wanting((count == 0, f"{count} {lists} that nobody here has read and signed", "checklists:to_read"))


_STEPS = (
    _Asked("shop", "Your shop", "It stands on every paper, and says when a promise falls due.", _shop),
    _Asked("people", "People", "Everybody signs in by their own name, so that it is plain who did what.", _people),
    _Asked("tablets", "Tablets", "The bench works on a tablet; HTTPS lets it go on without a network.", _tablets),
    _Asked("mail", "Mail", "Reminders, orders and the word that something is ready leave by it.", _mail),
    _Asked("backup", "Backup", "A backup on the disk of the data is lost together with them.", _backup),
    _Asked("prices", "Prices", "An estimate and a receipt need what work costs, and its tax.", _prices),
    _Asked("model", "First model", "The bench shows only values that somebody entered and checked.", _model),
    _Asked("parts", "First parts", "What is short can be said only of what is counted.", _parts),
    _Asked("moving_in", "What you have already", "A customer who is known is booked in with a few keys.", _moving_in),
    _Asked("checklists", "Read the checklists", "Until you signed them they are common practice only.", _checklists),
)  # fmt: skip
