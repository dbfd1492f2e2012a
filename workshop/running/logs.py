"""Log lines that a machine can read and that name nobody.

What is left out on purpose: addresses of pages with their query (a customer's link is a secret, a search is a name),
the words of exceptions (a database quotes the row that it refuses), and in anybody's message whatever looks like a
mail address, a phone number, a query or a customer's link. What stays says where to look: the request's name, the
route, the kind of exception, and the lines of code it came through. LOG_DETAIL=1 adds the words of exceptions, for a
fault that cannot be found otherwise.
"""

from __future__ import annotations

import datetime as dt
import fcntl
import json
import logging
import os
import re
import socket
import traceback
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from http.client import responses
from pathlib import Path
from typing import Any

from workshop.web.request_id import current_request

DETAIL = os.environ.get("LOG_DETAIL", "") == "1"
MACHINE = socket.gethostname()
_MOST_FRAMES = 15
_LARGEST_LOG = 512 * 1024
# What strangers sent and the server refused as it should: it is no fault of the shop, and whoever sends it again and
# again must not push out of the owner's list what is one.
_REFUSED_AS_IT_SHOULD = "django.security"
_NOTHING_SAID = {"logger": "", "message": "", "route": "", "exception": "", "code": "", "request": ""}
_KIND = ("logger", "message", "route", "exception", "code")
# Their messages quote an address, a sign-in name, or what stands on a document.
_QUOTING = ("django.request", "django.security", "django.server", "axes", "weasyprint", "fontTools")
_HIDDEN = (
    (re.compile(r"[^\s@<>\"']+@[^\s@<>\"']+"), "[mail]"),
    (re.compile(r"\?[^\s\"']*=[^\s\"']*"), "?[query]"),
    (re.compile(r"/c/[^\s\"']+"), "/c/[link]"),
    (re.compile(r"\+?\d(?:[ ()/-]{0,2}\d){6,}"), "[number]"),
)


def without_people(text: str) -> str:
    """The text with whatever looks like a way to reach somebody taken out."""
    for pattern, instead in _HIDDEN:
        text = pattern.sub(instead, text)
    return text


def facts_of(record: logging.LogRecord) -> dict[str, Any]:
    """What a log line says, as plain JSON."""
    facts: dict[str, Any] = {
        "at": dt.datetime.fromtimestamp(record.created, dt.UTC).isoformat(timespec="milliseconds"),
        "level": record.levelname,
        "logger": record.name,
        "message": _message(record),
    }
    if named := current_request():
        facts |= {"request": named.request_id, "method": named.method, "route": named.route}
        facts |= {"shop": named.shop} if named.shop else {}
    facts |= {
        key: value for key in ("shop", "status", "milliseconds") if isinstance(value := getattr(record, key, None), int)
    }
    if isinstance(status := getattr(record, "status_code", None), int):
        facts["status"] = status
    if record.exc_info and record.exc_info[1]:
        facts |= _exception(record.exc_info[1])
    return facts


class JsonLines(logging.Formatter):
    """A line of JSON for each record: LOG_FORMAT=json. Lines of several machines may come together somewhere."""

    def format(self, record: logging.LogRecord) -> str:
        return json.dumps({"machine": MACHINE} | facts_of(record), ensure_ascii=False)


class PlainLines(logging.Formatter):
    """The same facts for a person to read."""

    def format(self, record: logging.LogRecord) -> str:
        facts = facts_of(record)
        head = " ".join(facts.pop(key) for key in ("at", "level", "logger", "message"))
        where = facts.pop("where", [])
        rest = " ".join(f"{key}={value}" for key, value in facts.items() if value != "")
        return "\n    ".join([f"{head} {rest}".strip(), *where])


class ErrorLog(logging.Handler):
    """The last errors in a file of the shop's folder, for the owner's page. A full disk loses them, and no more.

    An exception with `is_a_fault = False` is none: whoever was told to wait a moment sends it again.
    """

    def __init__(self, path: str) -> None:
        super().__init__(logging.ERROR)
        self.path = Path(path)

    def emit(self, record: logging.LogRecord) -> None:
        try:
            raised = record.exc_info[1] if record.exc_info else None
            if record.name.startswith(_REFUSED_AS_IT_SHOULD) or not getattr(raised, "is_a_fault", True):
                return
            line = json.dumps(facts_of(record), ensure_ascii=False) + "\n"
            with _alone_with(self.path) as descriptor:
                if os.fstat(descriptor).st_size > _LARGEST_LOG:
                    line = _shortened(self.path) + line
                    _write_anew(self.path, line)
                else:
                    os.write(descriptor, line.encode())
        except OSError:
            pass


def last_errors(path: Path, *, since: dt.datetime, for_shop: int | None = None) -> list[dict[str, Any]]:
    """The errors of the file since a moment, each kind once, the newest first; a line that was cut off is passed over.

    With `for_shop` not those that came while another shop was served.
    `count` says how often it came, `first` and `at` (both datetimes) when for the first and the last time.
    """
    found = (facts for facts in _read(path) if for_shop is None or facts.get("shop", for_shop) == for_shop)
    return [{**_NOTHING_SAID, **facts} for facts in _grouped(found, within=None) if facts["at"] >= since]


def last_error_of_shops(path: Path) -> dict[int, dt.datetime]:
    """When the newest error of each shop came, by its key; of what came while no shop was served nothing is said."""
    newest: dict[int, dt.datetime] = {}
    for facts in _read(path):
        if isinstance(key := facts.get("shop"), int) and key:
            newest.setdefault(key, facts["at"])
    return newest


@contextmanager
def _alone_with(path: Path) -> Iterator[int]:
    """The file, to append to, while no other process writes it; one that was put in its place meanwhile is opened."""
    while True:
        descriptor = os.open(path, os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o600)
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX)
            if os.fstat(descriptor).st_ino == _number_of(path):
                yield descriptor
                return
        finally:
            os.close(descriptor)


def _number_of(path: Path) -> int:
    try:
        return path.stat().st_ino
    except FileNotFoundError:
        return -1


def _write_anew(path: Path, text: str) -> None:
    draft = path.with_suffix(".shorter")
    with os.fdopen(os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "w") as out:
        out.write(text)
    os.replace(draft, path)


def _shortened(path: Path) -> str:
    """Each kind of error once an hour with its count; the newest of them, up to half of what the file may hold."""
    kept: list[str] = []
    room = _LARGEST_LOG // 2
    for facts in _grouped(_read(path), within=dt.timedelta(hours=1)):
        line = json.dumps(facts | {"at": facts["at"].isoformat(), "first": facts["first"].isoformat()}) + "\n"
        room -= len(line)
        if room < 0:
            break
        kept.append(line)
    return "".join(reversed(kept))


def _grouped(found: Iterable[dict[str, Any]], *, within: dt.timedelta | None) -> list[dict[str, Any]]:
    """Each kind of error once, the kind of the newest first; where `within` is given, once in each such stretch."""
    groups: dict[tuple[Any, ...], dict[str, Any]] = {}
    for facts in found:
        stretch = int(facts["at"].timestamp() // within.total_seconds()) if within else 0
        kind = (stretch, *(str(facts.get(key, "")) for key in _KIND), str((facts.get("where") or [""])[-1]))
        known = groups.setdefault(kind, facts | {"count": 0})
        known["count"] += facts["count"]
        known["first"] = min(known["first"], facts["first"])
    return list(groups.values())


def _read(path: Path) -> Iterator[dict[str, Any]]:
    """The errors in the file, the newest first; `at` and `first` are datetimes."""
    try:
        lines = path.read_text(errors="replace").splitlines()
    except OSError:
        return
    for line in reversed(lines):
        try:
            facts = json.loads(line)
            at = dt.datetime.fromisoformat(facts["at"])
            first = dt.datetime.fromisoformat(facts.get("first", facts["at"]))
            yield {**facts, "at": at, "first": first, "count": int(facts.get("count", 1))}
        except (ValueError, KeyError, TypeError, AttributeError):
            continue


def _message(record: logging.LogRecord) -> str:
    if isinstance(status := getattr(record, "status_code", None), int):
        return responses.get(status, str(status))
    if record.name.startswith(_QUOTING):
        return without_people(str(record.msg).partition("%")[0].partition("{")[0].strip(" :"))
    return without_people(record.getMessage())


def _exception(error: BaseException) -> dict[str, Any]:
    frames = traceback.extract_tb(error.__traceback__)[-_MOST_FRAMES:]
    kinds, cause = [type(error).__name__], error.__cause__ or error.__context__
    while cause is not None and len(kinds) < 5:
        kinds.append(type(cause).__name__)
        cause = cause.__cause__ or cause.__context__
    facts: dict[str, Any] = {"exception": " from ".join(kinds)}
    code = getattr(error, "sqlstate", None) or getattr(error.__cause__, "sqlstate", None)
    code = code or getattr(error.__cause__, "sqlite_errorname", None)
    if isinstance(error, OSError) and error.strerror:
        code = error.strerror
    if code:
        facts["code"] = str(code)
    if DETAIL:
        facts["detail"] = str(error)
    return facts | {"where": [f"{Path(frame.filename).name}:{frame.lineno} {frame.name}" for frame in frames]}
