"""The security log of a shop: adding a line, and following the chain of digests from the first to the last.

A line's digest is SHA-256 over the digest of the line before and everything the line says, so that a line which was
changed, put in or taken out shows at the first one after it. Lines cut off at the end show only against a copy: a
backup has the digest they had.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from django.db import transaction
from django.http import HttpRequest
from django.utils import timezone

from workshop.staff.address import client_address
from workshop.staff.browser_words import browser_words
from workshop.staff.models import Shop, User
from workshop.staff.security_log_models import SecurityEvent

AT_ONCE = 500


class Did(StrEnum):
    """What can stand in the log. Its words are in `_WORDS`; a value there is written with the line."""

    SIGNED_IN_NEW = "signed_in_new"
    HAD_TO_WAIT = "had_to_wait"
    PASSWORD_CHANGED = "password_changed"  # noqa: S105  a word for what was done
    PASSWORD_RESET = "password_reset"  # noqa: S105  as above
    FACTOR_ON = "factor_on"
    FACTOR_OFF = "factor_off"
    FACTOR_RESET = "factor_reset"
    STAFF_ADDED = "staff_added"
    STAFF_CHANGED = "staff_changed"
    PRICES_ALLOWED = "prices_allowed"
    PRICES_NOT_ALLOWED = "prices_not_allowed"
    SHUT_OUT = "shut_out"
    LET_IN = "let_in"
    LET_IN_AT_MACHINE = "let_in_at_machine"
    DEVICE_LET_IN = "device_let_in"
    DEVICE_ENDED = "device_ended"
    SESSIONS_ENDED = "sessions_ended"
    TOOK_EVERYTHING = "took_everything"
    TOOK_PERSON = "took_person"
    ERASED = "erased"
    ERASED_BY_ITSELF = "erased_by_itself"
    RETENTION_CHANGED = "retention_changed"
    MAIL_TRIED = "mail_tried"
    MAIL_CHANGED = "mail_changed"
    SHOP_CHANGED = "shop_changed"
    RECEIPTS_CHANGED = "receipts_changed"
    TAX_CHANGED = "tax_changed"
    BACKUPS_MOVED = "backups_moved"
    SHOP_SUSPENDED = "shop_suspended"
    SHOP_RESUMED = "shop_resumed"
    SHOP_CLOSED = "shop_closed"


_WORDS = {
    Did.SIGNED_IN_NEW: "Signed in on a device that was new",
    Did.HAD_TO_WAIT: "Too many wrong passwords: had to wait",
    Did.PASSWORD_CHANGED: "Changed the own password",
    Did.PASSWORD_RESET: "Gave {who} a new first password",
    Did.FACTOR_ON: "Set up a second factor",
    Did.FACTOR_OFF: "Removed their own second factor",
    Did.FACTOR_RESET: "Removed the second factor of {who}",
    Did.STAFF_ADDED: "Added {who}, as {roles}",
    Did.STAFF_CHANGED: "Changed {who}: now {roles}, before {was}",
    Did.PRICES_ALLOWED: "Let {who} set prices",
    Did.PRICES_NOT_ALLOWED: "Lets {who} set prices no longer",
    Did.SHUT_OUT: "Shut {who} out",
    Did.LET_IN: "Let {who} sign in again",
    Did.LET_IN_AT_MACHINE: "Somebody at the shop’s machine let {who} in, with a new first password",
    Did.DEVICE_LET_IN: "Let the device {device} in",
    Did.DEVICE_ENDED: "Ended the device {device}",
    Did.SESSIONS_ENDED: "Ended open sessions of {who}: {count}",
    Did.TOOK_EVERYTHING: "Exported everything of the shop, as a file",
    Did.TOOK_PERSON: "Exported what is kept of customer {customer}",
    Did.ERASED: "Erased customer {customer}",
    Did.ERASED_BY_ITSELF: "Customer {customer} was erased automatically, not seen for long",
    Did.RETENTION_CHANGED: "Changed how long people are kept: {how}",
    Did.MAIL_TRIED: "Sent a test letter by the mail server {host}",
    Did.MAIL_CHANGED: "Letters leave by {host}",
    Did.SHOP_CHANGED: "Changed the shop’s settings: {fields}",
    Did.RECEIPTS_CHANGED: "Changed what stands on receipts",
    Did.TAX_CHANGED: "Changed tax, or its rate of a day",
    Did.BACKUPS_MOVED: "Backups go to {folder}",
    Did.SHOP_SUSPENDED: "The operator of the shop’s computer, {who}, suspended the shop: {why}",
    Did.SHOP_RESUMED: "The operator of the shop’s computer, {who}, resumed the shop",
    Did.SHOP_CLOSED: "The operator of the shop’s computer, {who}, closed the shop for good. Everything of it: {file}",
}


@dataclass(frozen=True)
class WhereFrom:
    """From where something was done: address and device in words; empty at the shop's own machine."""

    address: str = ""
    browser: str = ""

    @classmethod
    def of(cls, request: HttpRequest) -> WhereFrom:
        return cls(client_address(request)[:64], browser_words(request.headers.get("User-Agent", "")))


@dataclass(frozen=True)
class ChainStanding:
    """How far the chain was followed. `wrong` is the number of the first line that does not hold, None where all do."""

    checked: int
    last: int
    wrong: int | None


@transaction.atomic
def note(*, shop: Shop, did: Did, by: User | None, place: WhereFrom, **values: str | int) -> SecurityEvent:
    """Add a line. Call it first in the transaction of what is done: it holds the shop's row, so no other comes between.

    Args:
        values: what the line's words name. Never a customer's name: a line outlives their erasure.
    """
    Shop.objects.select_for_update(no_key=True).only("pk").get(pk=shop.pk)
    last = SecurityEvent.objects.filter(shop=shop).order_by("-number").first()
    event = SecurityEvent(
        shop=shop, number=last.number + 1 if last else 1, at=timezone.now(), kind=did, by=by,
        by_name=by.username if by else "", address=place.address, browser=place.browser, values=values,
        before=last.digest if last else "",
    )  # fmt: skip
    event.digest = digest_of_event(event)
    event.full_clean(exclude=["values"], validate_constraints=False)  # many lines need none
    event.save()
    return event


def note_by(request: HttpRequest, did: Did, **values: str | int) -> None:
    """Add a line of who is signed in; nothing for somebody without a shop, who enters nowhere."""
    user = request.user
    if isinstance(user, User) and user.shop is not None:
        note(shop=user.shop, did=did, by=user, place=WhereFrom.of(request), **values)


def words_of(event: SecurityEvent) -> str:
    """What a line says. What a newer version wrote is said by its key."""
    if event.kind not in set(Did):
        return event.kind
    values = dict(event.values)
    if "fields" in values:
        values["fields"] = ", ".join(_field_words(name) for name in values["fields"].split(",") if name) or "none"
    return _WORDS[Did(event.kind)].format_map(_Said(values))


def _field_words(name: str) -> str:
    """A field of the shop by its key, as today's words have it."""
    field = {field.name: field for field in Shop._meta.get_fields()}.get(name)
    return str(getattr(field, "verbose_name", name.replace("_", " ")))


class _Said(dict[str, Any]):
    def __missing__(self, key: str) -> str:
        return "?"


def digest_of_event(event: SecurityEvent) -> str:
    """Of everything a line says, and of the line before."""
    said = [
        event.before, event.shop_id, event.number, event.at.astimezone(dt.UTC).isoformat(timespec="microseconds"),
        str(event.kind), event.by_id, event.by_name, event.address, event.browser, event.values,
    ]  # fmt: skip
    written = json.dumps(said, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(written.encode()).hexdigest()


def standing_of_log(shop: Shop, *, newest: int | None = None) -> ChainStanding:
    """Follow the chain: all of it, or of the newest lines only, which is as quick whatever the shop's age. Two queries.

    Args:
        newest: how many lines; the line before them is taken as it stands.
    """
    events = SecurityEvent.objects.filter(shop=shop)
    last = events.order_by("-number").values_list("number", flat=True).first() or 0
    after = max(0, last - newest) if newest is not None else 0
    number, checked, before = after, 0, ""
    for event in events.filter(number__gte=after).order_by("number").iterator(chunk_size=AT_ONCE):
        if event.number == after:  # only what the first of the newest is tied to
            before = event.digest
            continue
        if event.number != number + 1 or event.before != before or event.digest != digest_of_event(event):
            return ChainStanding(checked, last, number + 1)
        number, checked, before = event.number, checked + 1, event.digest
    return ChainStanding(checked, last, None)
