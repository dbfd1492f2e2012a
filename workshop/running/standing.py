"""How the system under the shop stands, for its owner: each fact with what to do about it, if anything."""

from __future__ import annotations

import datetime as dt
import os
import shutil
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.files.storage import default_storage
from django.db import DatabaseError, connection, connections
from django.db.models import Count, Q
from django.template.defaultfilters import filesizeformat

from workshop import pdf_libraries
from workshop.customers.privacy_models import Erasure
from workshop.reminders.delivery import why_no_mail
from workshop.reminders.models import Message
from workshop.reminders.sending import waiting_emails
from workshop.running.backups_standing import TRIAL_LATE, TRIED, standing_of_backups
from workshop.running.logs import last_errors
from workshop.running.preflight.folders import is_low
from workshop.running.preflight.looking import standing_of_preflight
from workshop.running.scheduled import Scheduled, standing_of_runs, went_well_elsewhere
from workshop.running.system_fact import SystemFact, ago
from workshop.running.tables import open_migrations
from workshop.running.version import app_version
from workshop.running.whole_check import WHOLE_EVERY, last_check
from workshop.searching.installing import what_is_wanting
from workshop.staff import append_only
from workshop.staff.models import Shop
from workshop.staff.security_log import standing_of_log
from workshop.tickets.models import Photo
from workshop.tickets.whose import of_the_shop
from workshop.web.storage import StoreAway

WHOLE_LATE = WHOLE_EVERY + dt.timedelta(days=2)
ERRORS_OF = dt.timedelta(hours=24)
ERRORS_SHOWN = 8
LOG_LINES = 500
_STATES = Message.State


@dataclass(frozen=True)
class SystemStanding:
    """The facts, those that want something first on the page, and the last errors, each kind once."""

    facts: list[SystemFact]
    errors: list[dict[str, Any]]

    @property
    def wanting(self) -> list[SystemFact]:
        return [fact for fact in self.facts if fact.todo]


def standing_of_system(shop: Shop, now: dt.datetime) -> SystemStanding:
    """Everything the owner should know, in a number of queries that does not grow with the shop."""
    errors = last_errors(Path(settings.DATA_DIR) / "errors.jsonl", since=now - ERRORS_OF, for_shop=shop.pk)
    facts = [
        *(_of_another_machine(fact, now) for fact in standing_of_backups(now).facts),
        _scheduled(now),
        _disk(),
        _mail(shop),
        _errors(sum(error["count"] for error in errors)),
        _photo_store(shop),
        _pdf(),
        _unfinished(shop),
        _security_log(shop),
        _database(),
        _looked_through(now),
        _version(),
        *standing_of_preflight(),
    ]
    return SystemStanding(facts, errors[:ERRORS_SHOWN])


def _of_another_machine(fact: SystemFact, now: dt.datetime) -> SystemFact:
    """Of several machines one restores a backup as a test each week; the others have no note of their own."""
    if fact.label != TRIED or not fact.todo:
        return fact
    run = went_well_elsewhere(Scheduled.TRIAL, within=TRIAL_LATE, now=now)
    return SystemFact(TRIED, ago(now - run.began_at), f"{run.outcome}, on another machine") if run else fact


def _scheduled(now: dt.datetime) -> SystemFact:
    """What a timer starts for every shop of the database. Why it failed may name others: that is the operator's."""
    label, runs = "Scheduled runs", standing_of_runs(now)
    done = [run for run in runs if run.last is not None and run.last.ended_at is not None]
    said = [f"{run.name} {ago(now - run.last.ended_at).lower()}" for run in done if run.last and run.last.ended_at]
    wrong = [f"{run.name} failed or did not end." for run in runs if run.went_wrong]
    why = "Whoever looks after the shop’s computer sees why: python3 manage.py shops." if wrong else ""
    if not runs:
        return SystemFact(label, "None yet", "reminders and backups that a timer starts")
    return SystemFact(label, "Failed" if wrong else "As they should", ", ".join(said), " ".join([*wrong, why]).strip())


def _disk() -> SystemFact:
    usage = shutil.disk_usage(Path(settings.DATA_DIR))
    low = is_low(usage.free, usage.total)
    return SystemFact(
        "Free on the disk",
        filesizeformat(usage.free),
        f"of {filesizeformat(usage.total)}",
        "Make room soon: a full disk takes no ticks and no photos." if low else "",
    )


def _mail(shop: Shop) -> SystemFact:
    waiting, failed = [_STATES.QUEUED, _STATES.CLAIMED, _STATES.HANDING_OVER], [_STATES.FAILED, _STATES.UNCERTAIN]
    counts = Message.objects.filter(shop=shop, state__in=[*waiting, *failed]).aggregate(
        waiting=Count("pk", filter=Q(state__in=waiting)), failed=Count("pk", filter=Q(state__in=failed))
    )
    todo = f"{counts['failed']} came back or were cut off. Look at them." if counts["failed"] else ""
    if (wanting := why_no_mail(shop)) and waiting_emails(shop).exists():
        todo = f"{wanting} {todo}".strip()
    return SystemFact("Mail waiting", str(counts["waiting"]), "reminders not sent yet", todo, "office:reminders_outbox")


def _errors(count: int) -> SystemFact:
    todo = "Tell whoever looks after the shop’s computer; the list is below." if count else ""
    return SystemFact("Errors", str(count), "in the last 24 hours", todo)


def _photo_store(shop: Shop) -> SystemFact:
    label, root = "Photos and documents", Path(settings.MEDIA_ROOT)
    newest = Photo.objects.filter(of_the_shop(shop)).order_by("-pk").values_list("file", flat=True).first()
    folder = next(path for path in (root, *root.parents) if path.exists())
    if not settings.FILES_BUCKET and not os.access(folder, os.W_OK):
        return SystemFact(label, "Closed", todo="Their folder cannot be written: photos and papers cannot be kept.")
    try:
        lost = newest and not default_storage.exists(newest)
    except StoreAway as away:
        todo = f"Tell whoever looks after the shop’s computer: the bucket they are kept in cannot be used. {away.words}"
        return SystemFact(label, "Not to be had", todo=todo)
    if lost:
        return SystemFact(
            label, "Missing", todo="The newest photo is not where it was kept. Look at the disk, or restore."
        )
    return SystemFact(label, "Open", "in a bucket" if settings.FILES_BUCKET else "")


def _pdf() -> SystemFact:
    missing = pdf_libraries.missing_packages()
    if missing:
        return SystemFact("PDFs", "Cannot be made", todo=f"Install on the server: {' '.join(missing)}")
    return SystemFact("PDFs", "Can be made")


def _unfinished(shop: Shop) -> SystemFact:
    """What a process began and did not end: files of erased customers that are still kept."""
    count = Erasure.objects.of_shop(shop).exclude(files_to_remove=[]).count()
    todo = "Files of erased customers are still kept. Run python3 manage.py send_reminders." if count else ""
    return SystemFact("Jobs not finished", str(count), todo=todo)


def _security_log(shop: Shop) -> SystemFact:
    """The newest lines, so that the page is as quick after years; `manage.py check_log` follows all of them."""
    standing = standing_of_log(shop, newest=LOG_LINES)
    label, note = "Security log", f"the newest {standing.checked:,} of {standing.last:,} lines"
    if standing.wrong is not None:
        words = f"Line {standing.wrong} is not as it was written. Somebody changed the database past the app: ask who."
        return SystemFact(label, "Changed", note, words, "office:security_log")
    if not append_only.is_installed():
        words = "The database would let it be changed. Run python3 manage.py upgrade."
        return SystemFact(label, "Open", note, words, "office:security_log")
    return SystemFact(label, "As it was written", note)


def _database() -> SystemFact:
    """Not its size: a database may be that of several shops, and how much others have is not this owner's."""
    name = "PostgreSQL" if connection.vendor == "postgresql" else "SQLite"
    return SystemFact("Database", name, todo=what_is_wanting())


def _looked_through(now: dt.datetime) -> SystemFact:
    """How the last look through the database went; the next start or backup looks again."""
    label, last = "Database looked through", last_check()
    if last is None:
        return SystemFact(label, "Not yet", "at each start, and whole with a backup once a week")
    when = ago(now - last.at)
    if not last.ok:
        return SystemFact(label, "Found something", when, last.words)
    whole = last_check(of="whole")
    late = whole is not None and now - whole.at > WHOLE_LATE
    if late and went_well_elsewhere(Scheduled.LOOK, within=WHOLE_LATE, now=now):
        late = False
    todo = "Not all of it for too long: the nightly backup does it once a week." if late else ""
    return SystemFact(
        label, when, f"{last.words}; all of it {ago(now - whole.at).lower() if whole else 'not yet'}", todo
    )


def _version() -> SystemFact:
    try:
        waiting = len(open_migrations(connections["default"]))
    except DatabaseError:
        waiting = 0
    todo = f"{waiting} migrations are open. Run python3 manage.py upgrade." if waiting else ""
    return SystemFact("Version", app_version(), "of this app", todo)
