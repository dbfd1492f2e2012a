"""What runs by a timer, once for all machines of a database: who is at it, whether it was done, and how it ended.

Whoever holds the lock is at it (`one_at_a_time.py`); what a row says of it is for people, and for the next machine.
"""

from __future__ import annotations

import datetime as dt
import logging
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from enum import StrEnum

from django.core.management.base import CommandError
from django.db import DatabaseError, connection, transaction
from django.db.models import Max
from django.utils import timezone

from workshop.running.logs import MACHINE
from workshop.running.one_at_a_time import alone_at
from workshop.running.preflight.folders import os_error_in_words
from workshop.running.scheduled_models import ScheduledRun

KEPT = 100  # rows of each
BROKE_OFF = "Broke off: its process ended without a word."
_LONGEST = 1000
_log = logging.getLogger("workshop.scheduled")


class Scheduled(StrEnum):
    """What a timer starts; the last two are parts of a backup's run, once a week."""

    REMINDERS = "reminders"
    BACKUP = "backup"
    TRIAL = "trial"
    LOOK = "look"


_NAMES = {
    Scheduled.REMINDERS: "Reminders",
    Scheduled.BACKUP: "Backup",
    Scheduled.TRIAL: "Test restore",
    Scheduled.LOOK: "Look through the database",
}
_EVERY = {
    Scheduled.REMINDERS: dt.timedelta(hours=1),
    Scheduled.BACKUP: dt.timedelta(days=1),
    Scheduled.TRIAL: dt.timedelta(days=7),
    Scheduled.LOOK: dt.timedelta(days=7),
}


class RunNotNeeded(Exception):
    """Another process is at it, or did it in this hour or on this day; the message says which."""


@dataclass
class RunUnderWay:
    """A run that has begun: what is kept of it in the end, and whether it takes up one that broke off, in words."""

    words: str = ""
    went_well: bool = True
    takes_up: str = ""


@dataclass(frozen=True)
class RunStanding:
    """The last run of something that ended, and since when one is overdue to end."""

    name: str
    last: ScheduledRun | None
    never_ended: ScheduledRun | None

    @property
    def went_wrong(self) -> ScheduledRun | None:
        """The run that somebody should look at."""
        return self.never_ended or (self.last if self.last is not None and not self.last.went_well else None)


@contextmanager
def run_once(what: Scheduled, *, when_due: bool) -> Iterator[RunUnderWay]:
    """Work that no other process does meanwhile, on whatever machine; what becomes of it is kept.

    Args:
        when_due: not where it was done well in this hour (reminders) or on this day (backup), by UTC, or just before.

    Raises:
        RunNotNeeded: nothing was begun.
    """
    with alone_at(what) as alone:
        if not alone:
            raise RunNotNeeded(_at_it(what))
        if when_due and (done := _done(what, timezone.now())):
            raise RunNotNeeded(done)
        with note_run(what) as run:
            yield run


@contextmanager
def note_run(what: Scheduled) -> Iterator[RunUnderWay]:
    """Keep when something began, and how it ended; what another process of it left without an end is ended.

    A database that is older than this code, or takes nothing just now, keeps nobody from a backup.
    """
    now, row, broke_off = timezone.now(), None, ""
    try:
        with transaction.atomic():
            if _is_kept():
                broke_off = _end_broken_off(what, now)
                row = ScheduledRun.objects.create(what=what, machine=MACHINE[:120], began_at=now)
    except DatabaseError:
        _log.warning("That a run began could not be recorded", exc_info=True)
    run = RunUnderWay(takes_up=broke_off)
    try:
        yield run
    except BaseException as error:
        _end(row, went_well=False, words=_why(error))
        raise
    _end(row, went_well=run.went_well, words=run.words)


def went_well_elsewhere(what: Scheduled, *, within: dt.timedelta, now: dt.datetime) -> ScheduledRun | None:
    """The last run on another machine that went well so lately; None where there is none, or nothing is kept."""
    if not _is_kept():
        return None
    runs = ScheduledRun.objects.filter(what=what, went_well=True, began_at__gt=now - within, began_at__lte=now)
    return runs.exclude(machine=MACHINE[:120]).first()


def standing_of_runs(now: dt.datetime) -> list[RunStanding]:
    """How each of them stands, those that ever ran; two queries."""
    ended = {run.what: run for run in _newest(ended_at__isnull=False)}
    open_now = {run.what: run for run in _newest() if run.ended_at is None}
    return [
        RunStanding(name, ended.get(what), open_now[what] if _is_late(open_now.get(what), what, now) else None)
        for what, name in _NAMES.items()
        if what in ended or what in open_now
    ]


def words_of_run(run: ScheduledRun) -> str:
    """“went well on 30 Nov 2026, 02:31, machine bench: …”."""
    if run.ended_at is None:
        return f"began on {_at(run.began_at)} on {run.machine}, and did not end"
    how = "went well" if run.went_well else "failed"
    return f"{how} on {_at(run.ended_at)}, on {run.machine}{f': {run.outcome}' if run.outcome else ''}"


def _newest(**which: bool) -> Iterator[ScheduledRun]:
    keys = ScheduledRun.objects.filter(**which).order_by().values("what").annotate(last=Max("pk")).values("last")
    yield from ScheduledRun.objects.filter(pk__in=keys)


def _is_late(run: ScheduledRun | None, what: Scheduled, now: dt.datetime) -> bool:
    return run is not None and now - run.began_at > 2 * _EVERY[what]


def _at_it(what: Scheduled) -> str:
    run = ScheduledRun.objects.filter(what=what, ended_at__isnull=True).first() if _is_kept() else None
    where = f", on {run.machine} since {_at(run.began_at)}" if run else ""
    return f"{_NAMES[what]}: another process is at it{where}. Nothing was done here."


def _done(what: Scheduled, now: dt.datetime) -> str:
    """Who did it well in this period, in words; empty where it is due. One that failed is due again."""
    last = ScheduledRun.objects.filter(what=what, ended_at__isnull=False).first() if _is_kept() else None
    if last is None or not last.went_well or not _same_period(last.began_at, now, _EVERY[what]):
        return ""
    return f"{_NAMES[what]}: done already, it {words_of_run(last).rstrip('.')}. Nothing was done here."


def _same_period(began: dt.datetime, now: dt.datetime, every: dt.timedelta) -> bool:
    """By the hour or the day of UTC, or an eighth of it apart, across its end and where clocks differ."""
    age, seconds = now - began, every.total_seconds()
    if abs(age) < every / 8:
        return True
    return age > dt.timedelta(0) and began.timestamp() // seconds == now.timestamp() // seconds


def _end_broken_off(what: Scheduled, now: dt.datetime) -> str:
    """Who has the lock ends what has no end. Returns what is taken up, in words."""
    broken = ScheduledRun.objects.filter(what=what, ended_at__isnull=True)
    said = [f"The run on {run.machine} from {_at(run.began_at)} broke off. It is taken up." for run in broken]
    broken.update(ended_at=now, went_well=False, outcome=BROKE_OFF)
    return " ".join(said)


def _end(row: ScheduledRun | None, *, went_well: bool, words: str) -> None:
    if row is None:
        return
    try:
        with transaction.atomic():
            done = ScheduledRun.objects.filter(pk=row.pk)
            done.update(ended_at=timezone.now(), went_well=went_well, outcome=words[:_LONGEST])
            older = ScheduledRun.objects.filter(what=row.what).values_list("pk", flat=True)[KEPT:]
            ScheduledRun.objects.filter(pk__in=list(older)).delete()
    except DatabaseError:
        _log.warning("How a run ended could not be recorded", exc_info=True)


def _why(error: BaseException) -> str:
    """What whoever runs the machine is told; the words of an error that nobody foresaw may hold people's data."""
    if isinstance(error, CommandError):
        return str(error)
    if isinstance(error, OSError):
        return f"It broke off: {os_error_in_words(error)}."
    return "Stopped." if isinstance(error, KeyboardInterrupt) else f"It broke off: {type(error).__name__}."


def _is_kept() -> bool:
    """Whether the database has the table: one that is to be upgraded yet has not."""
    return ScheduledRun._meta.db_table in connection.introspection.table_names()


def _at(at: dt.datetime) -> str:
    return f"{timezone.localtime(at):%-d %b %Y, %H:%M}"
