"""What a tablet sends when a step is answered, read without a form: a tick must cost little more than its row."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Mapping
from dataclasses import dataclass, field

from django.utils import timezone

from diagnosis.runs import NOTHING_TYPED, StepAnswer, TypedReadings
from diagnosis.runs_rules import TAKEN_BACK
from workshop.web.converters import key_from

READING_PREFIX, TOOL_PREFIX, REASON_PREFIX = "reading-", "tool-", "reason-"
WAIT = "wait-not-kept"
"""In place of a reading's key: why a proof's wait was not kept."""
LONGEST_NOTE = 2000
MOST_BEFORE = 500
MOST_WAITED_S = 14 * 24 * 3600


class Unreadable(ValueError):
    """What came is no answer: a version, an id or a note that cannot be read. The step's form may say which."""

    def __init__(self) -> None:
        super().__init__("This page sent something that cannot be read. Load it again, then answer.")


@dataclass(frozen=True)
class Queued:
    """What an answer carries that waited on the tablet: for how long, and the tablet's own ticks before it.

    `behind` are the steps of its answers in this run that were given before and are not in yet.
    """

    waited: dt.timedelta = dt.timedelta()
    after: frozenset[uuid.UUID] = frozenset()
    behind: frozenset[str] = frozenset()

    def happened_at(self, started_at: dt.datetime) -> dt.datetime:
        """When it was given, by the server's clock. Only how long it waited is the tablet's word."""
        return max(started_at, timezone.now() - self.waited)


@dataclass(frozen=True)
class Sent:
    """An answer as it was sent."""

    outcome: str
    seen_version: int
    client_id: uuid.UUID
    cause_key: str = ""
    note: str = ""
    typed: Mapping[str, str] = field(default_factory=dict)
    above_maximum_is_meant: bool = False
    tools: Mapping[str, int] = field(default_factory=dict)  # critical bolt to the torque tool it was tightened with
    reasons: Mapping[str, str] = field(default_factory=dict)  # reading key to why it is so all the same
    queued: Queued = Queued()
    finding: str = ""
    seen_said: int | None = None

    def as_answer(self, started_at: dt.datetime, readings: TypedReadings = NOTHING_TYPED) -> StepAnswer:
        """For a run that started then; `readings` are what was typed, in the shop's units."""
        return StepAnswer(
            outcome=self.outcome,
            seen_version=self.seen_version,
            client_id=self.client_id,
            note=self.note,
            cause_key=self.cause_key,
            readings=readings,
            ticked_at=self.queued.happened_at(started_at),
            after=self.queued.after,
            finding=self.finding,
            behind=self.queued.behind,
            seen_said=self.seen_said,
        )


def read_sent(post: Mapping[str, str]) -> Sent:
    """An answer from a form or a queue. The button is an outcome, or “found:<cause>:<kind of finding>”.

    Cause and kind may be empty or left out. Raises Unreadable.
    """
    outcome, _, found = post.get("outcome", "").partition(":")
    cause_key, _, finding = found.partition(":")
    note = post.get("note", "").strip()
    if len(note) > LONGEST_NOTE:
        raise Unreadable
    version, client_id = version_and_id(post)
    typed, tools, reasons = {}, {}, {}
    for name in post:
        if name.startswith(READING_PREFIX):
            if text := post[name].strip():
                typed[name.removeprefix(READING_PREFIX)] = text
        elif name.startswith(TOOL_PREFIX) and post[name]:
            tools[name.removeprefix(TOOL_PREFIX)] = _whole(post[name])
        elif name.startswith(REASON_PREFIX) and (text := post[name].strip()):
            reasons[name.removeprefix(REASON_PREFIX)] = text
    return Sent(
        outcome=outcome,
        cause_key=cause_key,
        finding=finding,
        seen_version=version,
        client_id=client_id,
        note=note,
        typed=typed,
        above_maximum_is_meant=bool(post.get("above_maximum")),
        tools=tools,
        reasons=reasons,
        queued=read_queued(post),
        seen_said=key_from(post.get("said", "")),
    )


def read_taken_back(post: Mapping[str, str]) -> Sent:
    """That an answer is undone, from a form or a queue. Raises Unreadable."""
    version, client_id = version_and_id(post)
    return Sent(TAKEN_BACK, version, client_id, queued=read_queued(post))


def read_queued(post: Mapping[str, str]) -> Queued:
    """How long it waited, in seconds; the ids and the steps before it, apart by blanks. Raises Unreadable."""
    waited, after, behind = (post.get(name, "") for name in ("waited", "after", "behind"))
    if not waited and not after and not behind:
        return Queued()
    ids = after.split()[-MOST_BEFORE:]
    return Queued(
        waited=dt.timedelta(seconds=min(_whole(waited or "0"), MOST_WAITED_S)),
        after=frozenset(map(read_id, ids)),
        behind=frozenset(behind.split()),
    )


def version_and_id(post: Mapping[str, str]) -> tuple[int, uuid.UUID]:
    """The version that was seen and the id made by the sender. Raises Unreadable."""
    version = _whole(post.get("version", ""))
    if version < 1:
        raise Unreadable
    return version, read_id(post.get("client_id", ""))


def _whole(text: str) -> int:
    number = key_from(text)
    if number is None:
        raise Unreadable
    return number


def read_id(text: str) -> uuid.UUID:
    """An id made by the sender. Raises Unreadable."""
    try:
        return uuid.UUID(text)
    except ValueError as error:
        raise Unreadable from error
