"""Who may add the next tick to a run: each advances its version by one, and one writer gets each number."""

from __future__ import annotations

import uuid
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from django.utils import timezone

from diagnosis.in_between import news_of, stand_apart
from diagnosis.models import Run, Step, Tick
from diagnosis.runs_refusals import ReusedClientId, StaleRun, WaitsForOthers
from diagnosis.runs_rules import ALL_WELL, TAKEN_BACK, counts_as, needs_of
from diagnosis.unit_state import LEFT_EARLY


class TickRow(NamedTuple):
    """A tick as the rules need it."""

    client_id: uuid.UUID
    step_id: int
    outcome: str
    pk: int
    counted_from_id: int | None
    finding: str = ""
    cause_id: int | None = None


_ROWS = Tick.objects.order_by("pk").values_list(*TickRow._fields)


def rows_of_claim(run: Run) -> list[TickRow]:
    """Every tick of the run, oldest first, in one query."""
    return [TickRow(*row) for row in _ROWS.filter(run=run)]


def stored_tick(
    run: Run, step_key: str, outcome: str, client_id: uuid.UUID, rows: Sequence[TickRow] | None
) -> Tick | None:
    """The tick of that id; `rows` are the run's, where they were read already."""
    if rows is not None and all(row.client_id != client_id for row in rows):
        return None
    stored = Tick.objects.select_related("step", "by", "run").filter(client_id=client_id).first()
    if stored is None:
        return None
    sent = outcome if stored.outcome == LEFT_EARLY and outcome in ALL_WELL else stored.outcome
    if (stored.run_id, stored.step.key, sent) != (run.pk, step_key, outcome):
        # A page brought back by the browser sends its old id with a new answer; dropping that would lose it.
        run.refresh_from_db()
        raise ReusedClientId(run, [stored])
    return stored


@dataclass(frozen=True)
class InBetween:
    """The ticks of a run since its sender saw it, and which of those of others are news to an answer.

    `seen` is the version up to which the sender knows the run once its answer is in: a further one only where nobody
    else ticked in between, so that what it has not seen is told as soon as it matters.
    """

    since: Sequence[TickRow]
    others: Sequence[TickRow]
    news: Sequence[TickRow]
    seen_version: int

    @property
    def version(self) -> int:
        """The version at which the answer may be added: where something is news, the one that was seen."""
        return self.seen_version if self.news else self.seen_version + len(self.since)

    def seen(self, version: int) -> int:
        return self.seen_version if self.others else version

    def in_words(self) -> str:
        """What of others is news, with who and when, such as “Meanwhile “Fill it” was answered done at 14:02 by Jo.”"""
        ticks = Tick.objects.select_related("step", "by").filter(pk__in=[row.pk for row in self.news]).order_by("pk")
        return " ".join(f"Meanwhile {_told(tick)}." for tick in ticks)


def in_between(
    run: Run,
    steps: Sequence[Step],
    rows: Sequence[TickRow],
    step_key: str,
    seen_version: int,
    client_id: uuid.UUID,
    after: Collection[uuid.UUID],
) -> InBetween:
    """What happened since `seen_version`; `rows` are all ticks of the run, and `after` and `client_id` the sender's."""
    own, since = {*after, client_id}, rows[max(seen_version - 1, 0) :]
    others = [row for row in since if row.client_id not in own]
    if not others:
        return InBetween(since, others, [], seen_version)
    by_pk = {step.pk: step for step in steps}
    ticks = [(by_pk[row.step_id], row.outcome) for row in others]
    places = news_of(step_key, ticks, steps, needs_of(steps, run.facts))
    return InBetween(since, others, [others[place] for place in places], seen_version)


def claim(
    run: Run, step_key: str, outcome: str, client_id: uuid.UUID, between: InBetween, after: Collection[uuid.UUID]
) -> Tick | None:
    """Advance the version by one conditional UPDATE: of two writers at once exactly one gets it.

    The loser may be the same tick sent twice at once; it gets what the winner stored.
    """
    version = between.version
    if Run.objects.filter(pk=run.pk, version=version).update(version=version + 1, ended_at=None):
        run.version, run.ended_at = version + 1, None
        return None
    stored = stored_tick(run, step_key, outcome, client_id, None)
    if stored is None:
        run.refresh_from_db()
        ticks = Tick.objects.filter(run=run).select_related("step", "by").order_by("pk")
        since = ticks[max(between.seen_version - 1, 0) :]
        raise StaleRun(run, [entry for entry in since if entry.client_id not in after])
    return stored


def refuse_before_its_turn(run: Run, steps: Sequence[Step], step: Step, behind: Collection[str]) -> None:
    """Raise WaitsForOthers where `behind` names steps whose answers the sender has not got in yet and that this one
    does not stand apart from: taken in the wrong order, they would say something else of the unit.
    """
    if not behind:
        return
    by_key, needs = {other.key: other for other in steps}, needs_of(steps, run.facts)
    if any(key not in by_key or not stand_apart(step, by_key[key], needs) for key in behind):
        raise WaitsForOthers(step)


def _told(tick: Tick) -> str:
    done = "was taken back" if tick.outcome == TAKEN_BACK else f"was answered {tick.get_outcome_display().lower()}"
    who = f" by {tick.by}" if tick.by else ""
    return f"“{tick.step.title}” {done} at {timezone.localtime(tick.ticked_at):%H:%M}{who}"


def outcomes_of_rows(rows: Sequence[TickRow], steps: Sequence[Step]) -> dict[str, str]:
    """As `latest_outcomes`, of rows."""
    by_pk = {step.pk: step for step in steps}
    latest: dict[str, str] = {}
    for row in rows:
        step = by_pk[row.step_id]
        latest.pop(step.key, None)
        if row.outcome != TAKEN_BACK:
            latest[step.key] = counts_as(step, row.outcome, row.finding, names_cause=row.cause_id is not None)
    return latest
