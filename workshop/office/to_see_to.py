"""What wants the owner, in the order of the harm that waiting does, each with why and the page that cures it.

First what may hurt somebody (a torque tool that nobody should trust), then what may lose the shop (no backup), then
customers who were promised something, then what waits. That order is common practice, no published source. Nothing is
named twice: a part that a late ticket waits for stands with that ticket, a ticket that is late is not among those that
wait.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Q
from django.urls import reverse
from django.utils import timezone

from specs.models import SpecValue
from workshop.privacy.retention import to_be_erased
from workshop.promise.expected import StoresForPromises
from workshop.promise.honest import PromiseInDanger
from workshop.reminders.delivery import why_no_mail
from workshop.reminders.kept_list import kept_units
from workshop.reminders.sending import outbox_of
from workshop.running.backups_standing import backup_wants
from workshop.running.whole_check import database_wants_in_short
from workshop.signed.standing import unread
from workshop.staff.models import Shop
from workshop.stock.shortages import ItemStanding
from workshop.tickets.models import Ticket
from workshop.torque.tools import calibration_mark, outside_mark, tools_of
from workshop.web.long_lists import tally
from workshop.web.templatetags.shop import day as day_words

ROWS = 12
AT_ONCE = 2
CALIBRATION_AHEAD = dt.timedelta(days=14)


@dataclass(frozen=True)
class Cure:
    """The page that cures it, and what stands on the way there."""

    label: str
    url: str


@dataclass(frozen=True)
class ToSeeToRow:
    """One of several: what it is, why it is one, and its own cure."""

    what: str
    why: str
    cure: Cure


@dataclass(frozen=True)
class Thing:
    """Something to see to: how many, why it matters, and its cure; what has a cure of its own in rows.

    `shown` are the tickets that stand there at once; the others and the rows fold.
    """

    key: str
    title: str
    count: str
    why: str
    cure: Cure
    rows: Sequence[ToSeeToRow] = ()
    tickets: Sequence[Ticket] = ()
    shown: Sequence[Ticket] = ()

    @property
    def folds(self) -> bool:
        return bool(self.tickets or self.rows)


def cure_of(ticket: Ticket, danger: PromiseInDanger) -> Cure:
    """What a late promise wants: the answer, without which no part helps, the part, or another day."""
    if ticket.state == Ticket.State.WAITING and ticket.waiting_for == Ticket.WaitingFor.CUSTOMER:
        return Cure("Get the answer", reverse("counter:ticket", args=[ticket.number]))
    if danger.arrival is not None:
        return _part_cure(danger.arrival.order_number)
    return Cure("Agree on a day", reverse("counter:edit_agreement", args=[ticket.number]))


def things_before_promises(shop: Shop, today: dt.date) -> list[Thing]:
    """Torque tools, the database and the backup; one query."""
    return [*_tools(shop, today), *_database(shop), *_backup(shop)]


def things_after_promises(
    shop: Shop, today: dt.date, stores: StoresForPromises, dangers: Iterable[PromiseInDanger]
) -> list[Thing]:
    """The rest but tickets, in a number of queries that does not grow with the shop."""
    named = {danger.arrival.of for danger in dangers if danger.arrival is not None}
    return [
        *_short_parts(stores, named),
        *_mail(shop),
        *_values(),
        *_checklists(shop),
        *_reminders(shop, today),
        *_erasures(shop),
    ]


def _tools(shop: Shop, today: dt.date) -> list[Thing]:
    late = Q(calibrated_until=None) | Q(calibrated_until__lt=today + CALIBRATION_AHEAD) | ~Q(outside_by="")
    rows = []
    for tool in tools_of(shop).filter(late):
        why = outside_mark(tool) or calibration_mark(tool, today)
        soon = not why
        if tool.calibrated_until is not None and soon:
            why = f"The calibration of {tool.number} runs out on {day_words(tool.calibrated_until, 'j M')}."
        cure = Cure("Calibrate", reverse("stores:torque_tool", args=[tool.pk]))
        rows.append((soon, ToSeeToRow(str(tool), why, cure)))
    if not rows:
        return []
    ordered = [row for _, row in sorted(rows, key=lambda pair: pair[0])]
    why = ordered[0].why if len(ordered) == 1 else "What they tighten needs a second person."
    return [_of_rows("tools", "Calibrations due", why, ordered, Cure("See all", reverse("stores:torque_tools")))]


def _database(shop: Shop) -> list[Thing]:
    """What the looks at the start and of the week found; nothing is looked at for it."""
    wants = "" if shop.is_demo else database_wants_in_short()
    return [Thing("database", "Database", "", wants, Cure("See what to do", reverse("office:system")))] if wants else []


def _backup(shop: Shop) -> list[Thing]:
    """The demo is invented: nothing of it can be lost."""
    wants = "" if shop.is_demo else backup_wants(timezone.now())
    return [Thing("backup", "Backup", "", wants, Cure("See to it", reverse("office:backups")))] if wants else []


def _part_cure(order_number: int) -> Cure:
    if order_number:
        return Cure(f"Order {order_number}", reverse("stores:order", args=[order_number]))
    return Cure("Order the part", reverse("stores:to_order"))


def _short_parts(stores: StoresForPromises, named: Collection[int | str]) -> list[Thing]:
    """Parts that tickets lack, beside those that a late ticket names: what is not ordered first, then by its order."""
    items = [one for one in stores.standing.items if one.item.part_id not in named]
    rows = [
        (number == 0, ToSeeToRow(str(one.item.part), _for_whom(one), _part_cure(number)))
        for one in items
        if any(not share.is_here for share in one.shares)
        for number in [0 if one.missing else _order_of(one)]
    ]
    rows += [
        (True, ToSeeToRow(other.title, f"for {_tickets(want.number for want in other.wants)}; not kept", _part_cure(0)))
        for other in stores.standing.not_kept
        if other.of not in named
    ]
    if not rows:
        return []
    ordered = [row for _, row in sorted(rows, key=lambda pair: not pair[0])]
    lacking = sum(is_lacking for is_lacking, _ in rows)
    why = f"{lacking} not ordered yet." if lacking else "All of them are ordered."
    return [_of_rows("parts", "Short parts", why, ordered, Cure("To order", reverse("stores:to_order")))]


def _order_of(one: ItemStanding) -> int:
    """The order that the last of what tickets lack comes with."""
    last = [share.last_delivery for share in one.shares if share.last_delivery is not None]
    return max(last, key=lambda delivery: delivery.expected_on or dt.date.max).order_number if last else 0


def _for_whom(one: ItemStanding) -> str:
    lacking = [share for share in one.shares if not share.is_here]
    return f"for {_tickets(share.want.number for share in lacking)}"


def _tickets(numbers: Iterable[int]) -> str:
    each = sorted(set(numbers))
    more = f" and {len(each) - 3} more" if len(each) > 3 else ""
    return f"ticket{'' if len(each) == 1 else 's'} {', '.join(map(str, each[:3]))}{more}"


def _mail(shop: Shop) -> list[Thing]:
    box = outbox_of(shop)
    sent = Cure("Look at them", reverse("office:reminders_outbox"))
    if box.unsettled:
        why = "They came back or were cut off: whoever was to read them was not told."
        return [Thing("mail", "Mail failed", str(box.unsettled), why, sent)]
    if box.waiting + box.later and (wanting := why_no_mail(shop)):
        set_up = Cure("Set up mail", reverse("office:mail"))
        return [Thing("mail", "Mail cannot leave", str(box.waiting + box.later), wanting, set_up)]
    return []


def _values() -> list[Thing]:
    rows = SpecValue.objects.filter(is_current=True, withdrawn=False, checked_at__isnull=True)
    why = "A slip in one goes to every fork of its model."
    return _counted(
        "values", "Spec values not checked", rows, why, Cure("Check them", reverse("office:specs_unchecked"))
    )


def _checklists(shop: Shop) -> list[Thing]:
    why = "Nobody here stands for them yet."
    cure = Cure("Read them", reverse("checklists:to_read"))
    return _counted("checklists", "Checklists not read through", unread(shop), why, cure)


def _reminders(shop: Shop, today: dt.date) -> list[Thing]:
    due = kept_units(shop, today).filter(may_remind=True, place__lt=2)
    cure = Cure("Approve them", reverse("office:reminders"))
    return _counted("reminders", "Reminders to approve", due, "A service is due, and its customer wants to know.", cure)


def _erasures(shop: Shop) -> list[Thing]:
    why = "They were not seen for as long as the shop keeps people. Open whoever is to stay, and keep them."
    cure = Cure("See whom", reverse("office:privacy"))
    return _counted("erasures", "People soon erased automatically", to_be_erased(shop), why, cure)


def _counted(key: str, title: str, rows: Any, why: str, cure: Cure) -> list[Thing]:
    count = tally(rows)
    return [Thing(key, title, str(count), why, cure)] if count else []


def _of_rows(key: str, title: str, why: str, rows: Sequence[ToSeeToRow], every: Cure) -> Thing:
    """With one row its cure is the thing's own; with more, each has its own and the page of all stands above."""
    if len(rows) == 1:
        only = rows[0]
        said = f"{only.what}: {only.why}" if not only.why.endswith(".") else only.why
        return Thing(key, title, "1", said, only.cure)
    return Thing(key, title, str(len(rows)), why, every, rows=rows[:ROWS])
