"""How the shop's backups stand: the last one, its copy in a second place, and the last one restored as a test."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings
from django.template.defaultfilters import filesizeformat

from workshop.running.after_backup import TRIAL_EVERY
from workshop.running.backup_place import backup_place
from workshop.running.backup_record import outcome_of
from workshop.running.checking import opened
from workshop.running.encrypted import check_length
from workshop.running.keeping import made_at
from workshop.running.manifest import BackupRefused
from workshop.running.pass_phrase import NoPassPhrase, read_from
from workshop.running.second_place import newest_backup, on_the_same_disk
from workshop.running.system_fact import SystemFact, ago

BACKUP_EVERY = dt.timedelta(hours=36)
BY_HAND_EVERY = dt.timedelta(days=8)  # a disk that is plugged in for it once a week
TRIAL_LATE = TRIAL_EVERY + dt.timedelta(days=2)
HOW = "Set BACKUP_COPY_DIR, or copy by hand to another disk: python3 manage.py backup --to FOLDER."
EVERY_NIGHT = "Set up the nightly backup: python3 manage.py backup."
SECOND, TRIED = "Backup in a second place", "Backup restored as a test"


@dataclass(frozen=True)
class BackupsStanding:
    """The facts, in order, and those of them that want something done; no query is asked for it."""

    facts: list[SystemFact]

    @property
    def wanting(self) -> list[SystemFact]:
        return [fact for fact in self.facts if fact.todo]


def standing_of_backups(now: dt.datetime) -> BackupsStanding:
    """What the owner's pages say of the backups of this machine, which are those of every shop of its database."""
    return BackupsStanding([last_backup(now), _second_place(now), _last_trial(now)])


def place_problem(now: dt.datetime) -> str:
    """Why a broken disk, or a fire, may take shop and backups together; empty where no reason is known."""
    return _second_place(now).todo


def backup_wants(now: dt.datetime) -> str:
    """What wants doing about backups, by their names alone: no file is read. Empty where nothing does."""
    place = backup_place()
    if place.is_away:
        return "The disk of the backups is not connected, so none is made."
    newest = newest_backup(place.folder)
    when = made_at(newest.name) if newest else None
    if when is None:
        return "There is none: a broken disk would take the whole shop."
    late = f"The last was made {ago(now - when).lower()}: what came since would be lost."
    return late if now - when > BACKUP_EVERY else ""


def last_backup(now: dt.datetime) -> SystemFact:
    """The newest backup where they are kept: how old it is, and what wants doing about it."""
    label, place = "Last backup", backup_place()
    if place.is_away:
        away = "Its disk is not connected, so no backup is made."
        return SystemFact(label, "Not to be seen", str(place.folder), away, "office:backups")
    newest = newest_backup(place.folder)
    when = made_at(newest.name) if newest else None
    if newest is None or when is None:
        return SystemFact(label, "None", todo=f"There is no backup in the backup folder. {EVERY_NIGHT}")
    try:
        with opened(newest) as (_, manifest):
            note = f"{manifest.rows} rows and {len(manifest.files)} files, {filesizeformat(newest.stat().st_size)}"
            missing = len(manifest.missing_files)
    except (BackupRefused, OSError):
        return SystemFact(label, ago(now - when), todo="It cannot be read. Make another, and look at the disk.")
    if now - when > BACKUP_EVERY:
        return SystemFact(label, ago(now - when), note, f"It is too old. {EVERY_NIGHT}")
    lost = f"{missing} photos or documents could not be read for it. Look at the disk." if missing else ""
    return SystemFact(label, ago(now - when), note, lost)


def _second_place(now: dt.datetime) -> SystemFact:
    if settings.BACKUP_COPY_DIR:
        return _configured(Path(settings.BACKUP_COPY_DIR), now)
    shop, copied = Path(settings.DATA_DIR), outcome_of("copy")
    by_hand = copied.last_good if copied and copied.elsewhere else None
    if by_hand and now - by_hand <= BY_HAND_EVERY:
        return SystemFact(SECOND, ago(now - by_hand), "copied by hand to another disk, encrypted")
    if not on_the_same_disk(backup_place().folder, shop):
        return SystemFact(SECOND, "Another disk", "where all backups go")
    same = "Shop and backups are on one disk, and would be lost together."
    return SystemFact(SECOND, ago(now - by_hand) if by_hand else "None", todo=f"{same} {HOW}")


def _configured(folder: Path, now: dt.datetime) -> SystemFact:
    """The folder that is set: its newest copy, and what keeps it from being of use."""
    if not folder.is_dir():
        return SystemFact(SECOND, "Not there", todo=f"{folder} is not there. Is the disk plugged in?")
    newest = newest_backup(folder)
    when = made_at(newest.name) if newest else None
    copied = outcome_of("copy")
    failed = f"The last copy was not made. {copied.words}" if copied and not copied.ok else ""
    problem = _phrase_problem() or failed or _of_copy(newest) or _of_place(folder)
    if newest is None or when is None:
        return SystemFact(SECOND, "None", todo=problem or "No backup was copied there yet: python3 manage.py backup.")
    if not problem and now - when > BACKUP_EVERY:
        problem = f"It is too old. {EVERY_NIGHT}"
    return SystemFact(SECOND, ago(now - when), "encrypted", problem)


def _phrase_problem() -> str:
    if not settings.BACKUP_PASSPHRASE_FILE:
        return "Name the file with the pass phrase in BACKUP_PASSPHRASE_FILE: without it nothing is copied."
    try:
        read_from(Path(settings.BACKUP_PASSPHRASE_FILE))
    except NoPassPhrase as reason:
        return str(reason)
    return ""


def _of_copy(newest: Path | None) -> str:
    if newest is None:
        return ""
    try:
        with newest.open("rb") as file:
            check_length(file)
    except BackupRefused as refused:
        return f"The newest copy cannot be used. {refused}"
    except OSError:
        return "The newest copy cannot be read. Look at the disk."
    return ""


def _of_place(folder: Path) -> str:
    if settings.BACKUP_COPY_IS_SYNCED or not on_the_same_disk(folder, Path(settings.DATA_DIR)):
        return ""
    return (
        f"{folder} is on the same disk as the shop: is the other disk plugged in? Where something takes this folder "
        "elsewhere, say so with BACKUP_COPY_IS_SYNCED=1."
    )


def _last_trial(now: dt.datetime) -> SystemFact:
    last = outcome_of("test")
    if last is None:
        return SystemFact(TRIED, "Never", todo="Try one: python3 manage.py backup restores it as a test.")
    when = ago(now - last.at)
    if not last.ok:
        return SystemFact(TRIED, "Failed", f"{when}, {last.backup}", f"{last.words} Make another: {EVERY_NIGHT}")
    late = "It is too old: the nightly backup does it once a week." if now - last.at > TRIAL_LATE else ""
    return SystemFact(TRIED, when, f"{last.words} of {last.backup} compared", late)
