"""The database looked through: its pages at each start, within a time; all of it once a week, beside the test restore.

How both went is kept beside the data, so that the owner's pages can say so without looking again.
"""

from __future__ import annotations

import datetime as dt

from django.db import DatabaseError, connection
from django.utils import timezone

from workshop.kept import triggers
from workshop.reminders.kept_list import differing
from workshop.running.backup_record import BackupOutcome, Kind, keep_outcome, outcome_of
from workshop.running.page_check import PageCheck, quick_check, whole_check_of_pages
from workshop.searching import agreeing
from workshop.staff.models import Shop

WHOLE_EVERY = dt.timedelta(days=7)
_SLACK = dt.timedelta(hours=6)  # a timer that is a few minutes early this week does not wait for the next
DAMAGED = "Pages of the database are damaged"
OF_POSTGRESQL = "Have whoever looks after PostgreSQL look at its log and its disk, and restore the newest backup."
OF_SQLITE = (
    "Stop the server, keep a copy of the database file, and run: python3 manage.py backup --to RESCUE.zip. Where that "
    "goes through, every row could be read, and python3 manage.py restore --replace --without-backup RESCUE.zip makes "
    "the database anew from it; else restore the newest backup. Have the disk looked at before the shop goes on."
)


def sums_that_differ() -> list[str]:
    """Kept sums and places on the due list that do not follow from their rows, in words; reads all of them."""
    found = triggers.what_differs()
    if count := sum(differing(shop, timezone.localdate()) for shop in Shop.objects.all()):
        found.append(f"{count:,} units are not where they belong on the due list")
    return found


def check_pages_at_start() -> PageCheck:
    """A quick look at every page, within a time; how it went is kept."""
    found = quick_check()
    keep_check("pages", found, [])
    return found


def check_whole() -> list[str]:
    """Pages, indexes, references, kept sums and the search index; returns what is wrong, and keeps how it went."""
    pages = whole_check_of_pages()
    others: list[str] = []
    try:
        if differs := sums_that_differ():
            others.append(f"{'; '.join(differs)}. manage.py check_sums --mend makes them anew.")
        if differs := agreeing.what_differs():
            others.append(f"{'; '.join(differs)}. {agreeing.MENDED_BY}")
    except DatabaseError as error:
        if not pages.damage:
            others.append(f"The rows could not be gone through: {error}.")
    keep_check("whole", pages, others)
    return [*damage_in_words(pages), *others]


def keep_check(kind: Kind, pages: PageCheck, others: list[str]) -> None:
    """Keep how a look went; one that found the pages whole takes back what an earlier one said of them."""
    said = [*damage_in_words(pages), *others]
    well = "every page read" if pages.finished else "as many pages as the time allowed"
    words = " ".join(said) or well
    outcome = BackupOutcome(timezone.now(), ok=not said, words=words, backup="", damaged=bool(pages.damage))
    keep_outcome(kind, outcome)


def damage_in_words(pages: PageCheck) -> list[str]:
    """What was found and what to do, a sentence or none."""
    what_to_do = OF_SQLITE if connection.vendor == "sqlite" else OF_POSTGRESQL
    return [f"{DAMAGED}: {pages.words}. {what_to_do}"] if pages.damage else []


def whole_check_is_due(now: dt.datetime) -> bool:
    """Whether the last one is a week old, found something, or never was."""
    last = outcome_of("whole")
    return last is None or not last.ok or not dt.timedelta(0) <= now - last.at < WHOLE_EVERY - _SLACK


def last_check(*, of: Kind | None = None) -> BackupOutcome | None:
    """The newest look of either kind; one that found something stays until a look of its kind finds nothing."""
    kinds: list[Kind] = [of] if of else ["whole", "pages"]
    looks = [found for kind in kinds if (found := outcome_of(kind)) is not None]
    wrong = [look for look in looks if not look.ok]
    return max(wrong or looks, key=lambda look: look.at, default=None)


def database_wants_in_short() -> str:
    """What is wrong by the last looks, for a list of many things; System has all of it. Reads one small file."""
    last = last_check()
    if last is None or last.ok:
        return ""
    if last.damaged:
        return "Pages of it are damaged: what is written now may be lost. System says what to do."
    return "Something in it does not agree with the rest. System says what, and what mends it."
