"""Who may add the next tick to a run: each advances its version by one, and one writer gets each number."""

from __future__ import annotations

import uuid
from collections.abc import Collection, Sequence
from typing import NamedTuple

from diagnosis.models import Run, Step, Tick
from diagnosis.runs_refusals import ReusedClientId, StaleRun
from diagnosis.runs_rules import TAKEN_BACK, counts_as


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
    if (stored.run_id, stored.step.key, stored.outcome) != (run.pk, step_key, outcome):
        # A page brought back by the browser sends its old id with a new answer; dropping that would lose it.
        run.refresh_from_db()
        raise ReusedClientId(run, [stored])
    return stored


def claim(
    run: Run,
    seen_version: int,
    step_key: str,
    outcome: str,
    client_id: uuid.UUID,
    rows: Sequence[TickRow],
    after: Collection[uuid.UUID],
) -> Tick | None:
    """Advance the version by one conditional UPDATE: of two writers at once exactly one gets it.

    The loser may be the same tick sent twice at once; it gets what the winner stored.
    """
    own, version = set(after), seen_version
    since = rows[max(seen_version - 1, 0) :]
    if all(row.client_id in own for row in since):
        version += len(since)
    if Run.objects.filter(pk=run.pk, version=version).update(version=version + 1, ended_at=None):
        run.version, run.ended_at = version + 1, None
        return None
    stored = stored_tick(run, step_key, outcome, client_id, None)
    if stored is None:
        run.refresh_from_db()
        ticks = Tick.objects.filter(run=run).select_related("step", "by").order_by("pk")
        raise StaleRun(run, [entry for entry in ticks[max(seen_version - 1, 0) :] if entry.client_id not in own])
    return stored


def outcomes_of(rows: Sequence[TickRow], steps: Sequence[Step]) -> dict[str, str]:
    """As `latest_outcomes`, of rows."""
    by_pk = {step.pk: step for step in steps}
    latest: dict[str, str] = {}
    for row in rows:
        step = by_pk[row.step_id]
        latest.pop(step.key, None)
        if row.outcome != TAKEN_BACK:
            latest[step.key] = counts_as(step, row.outcome, row.finding, names_cause=row.cause_id is not None)
    return latest
