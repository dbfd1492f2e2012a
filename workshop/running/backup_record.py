"""What became of the last test restore, copy to a second place and look through the database, kept beside the data."""

from __future__ import annotations

import datetime as dt
import json
import os
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Literal

from django.conf import settings

RECORD = "backups.json"
Kind = Literal["copy", "test", "pages", "whole"]


@dataclass(frozen=True)
class BackupOutcome:
    """How it went: `words` say what was compared or why it failed, `last_good` when it last went well."""

    at: dt.datetime
    ok: bool
    words: str
    backup: str
    last_good: dt.datetime | None = None
    elsewhere: bool = False  # on another disk than the shop
    damaged: bool = False  # of a look through the database: pages of it are


def outcome_of(kind: Kind) -> BackupOutcome | None:
    """The last one; None where there is none, or none that can be read."""
    facts = _read().get(kind)
    try:
        return _outcome(facts) if isinstance(facts, dict) else None
    except (ValueError, TypeError, KeyError):
        return None


def keep_outcome(kind: Kind, outcome: BackupOutcome) -> None:
    """Keep it instead of the one before, whose last good time is handed on by one that failed."""
    before = outcome_of(kind)
    last_good = outcome.at if outcome.ok else before and before.last_good
    facts = asdict(outcome) | {
        "at": outcome.at.isoformat(),
        "last_good": last_good.isoformat() if last_good else None,
    }
    _write(_read() | {kind: facts})


def forget_checks() -> None:
    """What was found in a database that is there no more, after a restore."""
    kept = _read()
    if kept.keys() & {"pages", "whole"}:
        _write({kind: facts for kind, facts in kept.items() if kind not in {"pages", "whole"}})


def _write(content: dict[str, Any]) -> None:
    folder = Path(settings.DATA_DIR)
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    draft = folder / f".{RECORD}.{os.getpid()}"
    with os.fdopen(os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "w", encoding="utf-8") as out:
        json.dump(content, out, ensure_ascii=False, indent=1)
        out.flush()
        os.fsync(out.fileno())
    os.replace(draft, folder / RECORD)


def _read() -> dict[str, Any]:
    try:
        found = json.loads((Path(settings.DATA_DIR) / RECORD).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return found if isinstance(found, dict) else {}


def _outcome(facts: dict[str, Any]) -> BackupOutcome:
    return BackupOutcome(
        at=_time(facts["at"]),
        ok=facts["ok"] is True,
        words=str(facts["words"]),
        backup=str(facts["backup"]),
        last_good=_time(facts["last_good"]) if facts["last_good"] else None,
        elsewhere=facts["elsewhere"] is True,
        damaged=facts.get("damaged") is True,
    )


def _time(text: str) -> dt.datetime:
    when = dt.datetime.fromisoformat(text)
    if when.tzinfo is None:
        raise ValueError
    return when
