"""What follows a backup: its encrypted copy in a second place, and once a week its restore as a test."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

from django.conf import settings
from django.utils import timezone

from workshop.running.backup import BackupFailed
from workshop.running.backup_record import BackupOutcome, keep_outcome, outcome_of
from workshop.running.manifest import BackupRefused
from workshop.running.pass_phrase import NoPassPhrase, pass_phrase
from workshop.running.second_place import copy_encrypted, on_the_same_disk
from workshop.running.trial_restore import restore_as_a_test

TRIAL_EVERY = dt.timedelta(days=7)
_SLACK = dt.timedelta(hours=6)  # a timer that is a few minutes early this week does not wait for the next


def copy_to_second_place(*, backup: Path, folder: Path) -> Path:
    """Copy the backup there under the pass phrase, and keep how it went. Raises BackupFailed."""
    elsewhere = folder.is_dir() and not on_the_same_disk(folder, Path(settings.DATA_DIR))
    try:
        phrase = pass_phrase(for_new=True)
        copy = copy_encrypted(backup, folder, phrase=phrase)
    except (BackupFailed, NoPassPhrase) as failed:
        keep_outcome("copy", BackupOutcome(timezone.now(), ok=False, words=str(failed), backup=backup.name))
        raise BackupFailed(f"The copy in the second place was not made. {failed}") from failed
    said = "encrypted, read back and compared"
    keep_outcome("copy", BackupOutcome(timezone.now(), ok=True, words=said, backup=copy.name, elsewhere=elsewhere))
    return copy


def trial_is_due(now: dt.datetime) -> bool:
    """Whether the last test restore that went well is a week old, or there is none, or the last one failed."""
    last = outcome_of("test")
    return last is None or not last.ok or not dt.timedelta(0) <= now - last.at < TRIAL_EVERY - _SLACK


def try_restore(path: Path) -> str:
    """Restore the backup as a test and keep how it went; return what was compared, in words. Raises BackupFailed."""
    try:
        manifest = restore_as_a_test(path)
    except (BackupRefused, OSError) as failed:
        keep_outcome("test", BackupOutcome(timezone.now(), ok=False, words=str(failed), backup=path.name))
        raise BackupFailed(f"The test restore of {path.name} failed. {failed}") from failed
    words = f"{manifest.rows} rows of {len(manifest.tables)} tables and {len(manifest.files)} files"
    keep_outcome("test", BackupOutcome(timezone.now(), ok=True, words=words, backup=path.name))
    return words
