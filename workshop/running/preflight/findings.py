"""What a look before the start can find, for which purpose it is made, and what a command's exit code then says."""

from __future__ import annotations

import enum
from collections.abc import Callable, Iterable
from dataclasses import dataclass


class Purpose(enum.Enum):
    """What the look is made for."""

    SERVE = "serve"
    UPGRADE = "upgrade"
    BACKUP = "backup"
    RESTORE = "restore"
    CHECK = "check_shop"
    PAGE = "Office, System"


ALL = frozenset(Purpose)
COMMANDS = ALL - {Purpose.PAGE}


class Exit(enum.IntEnum):
    """Exit codes of these commands; the README has them in words. 2 is a command line that cannot be."""

    FAILED = 1
    SEE_TO_IT = 3
    NOT_BEGUN = 4
    IN_USE = 5


@dataclass(frozen=True)
class StartFinding:
    """Something that wants doing: about what, what is wrong, what to do.

    Args:
        stops: it keeps a command from beginning.
        by_choice: it may be on purpose, and `check_shop --accept` says so.
    """

    subject: str
    words: str
    todo: str = ""
    stops: bool = False
    by_choice: bool = False

    def __str__(self) -> str:
        return f"{self.subject}: {self.words} {self.todo}".strip()


@dataclass(frozen=True)
class Look:
    """One thing that is looked at.

    Args:
        do: yields what it finds for a purpose.
        asks_database: whether it is left out once the database turned out not to be usable.
        at_database: whether what stops in it says that.
    """

    subject: str
    do: Callable[[Purpose], Iterable[StartFinding]]
    purposes: frozenset[Purpose] = ALL
    asks_database: bool = False
    at_database: bool = False
