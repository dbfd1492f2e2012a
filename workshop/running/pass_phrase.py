"""The pass phrase of encrypted backups: from a file that only its owner reads, or typed; never from a command line."""

from __future__ import annotations

import getpass
import stat
import sys
from pathlib import Path

from django.conf import settings

SHORTEST = 12
LONGEST = 1024


class NoPassPhrase(Exception):
    """There is none to be had, or not one to be trusted; the message says what to do."""


def pass_phrase(*, for_new: bool) -> str:
    """The shop's pass phrase: out of BACKUP_PASSPHRASE_FILE, else asked for where somebody can answer.

    Args:
        for_new: something is to be encrypted with it: it is asked for twice, and one too short is refused.

    Raises NoPassPhrase.
    """
    place = settings.BACKUP_PASSPHRASE_FILE
    if place:
        return _judged(read_from(Path(place)), for_new=for_new)
    if not sys.stdin.isatty():
        raise NoPassPhrase("There is no pass phrase: name a file of mode 600 that holds it in BACKUP_PASSPHRASE_FILE.")
    typed = getpass.getpass("Pass phrase of the backup: ")
    if for_new and getpass.getpass("Once more: ") != typed:
        raise NoPassPhrase("The two pass phrases differ.")
    return _judged(typed, for_new=for_new)


def read_from(place: Path) -> str:
    """The first line of the file. Raises NoPassPhrase where others could read it, too."""
    try:
        with place.open("rb") as file:
            facts = place.stat()
            if not stat.S_ISREG(facts.st_mode):
                raise NoPassPhrase(f"{place} is not a file.")
            if facts.st_mode & 0o077:
                raise NoPassPhrase(f"Others on this machine may read {place}. Type: chmod 600 {place}")
            content = file.read(LONGEST + 1)
    except OSError as error:
        raise NoPassPhrase(f"The pass phrase cannot be read from {place}: {error.strerror}.") from error
    try:
        return content.decode("utf-8-sig").partition("\n")[0].rstrip("\r")
    except UnicodeDecodeError as error:
        raise NoPassPhrase(f"{place} is not text in UTF-8.") from error


def _judged(phrase: str, *, for_new: bool) -> str:
    if not phrase:
        raise NoPassPhrase("The pass phrase is empty.")
    if for_new and len(phrase) < SHORTEST:
        raise NoPassPhrase(
            f"The pass phrase has {len(phrase)} letters. Take at least {SHORTEST}, such as four words by chance."
        )
    return phrase
