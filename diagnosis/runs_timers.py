"""Timers at a step, such as foam rings soaking. They count from the start, so a reload loses nothing."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Sequence

from django.contrib.auth.base_user import AbstractBaseUser
from django.db import transaction
from django.db.models import DateTimeField, F, Value
from django.db.models.functions import Greatest
from django.utils import timezone

from diagnosis.models import Run, Step, StepTimer
from diagnosis.runs import step_of_run
from diagnosis.runs_refusals import TickRefused
from diagnosis.runs_shared import hold_job
from diagnosis.shared_steps import reads_the_same

_MOMENT = DateTimeField()


@transaction.atomic
def start_timer(
    *,
    run: Run,
    step_key: str,
    by: AbstractBaseUser | None,
    client_id: uuid.UUID,
    started_at: dt.datetime | None = None,
) -> StepTimer:
    """Start the step's timer; one that already runs, in any run of the job, is given back instead.

    `started_at` is earlier than now for a timer that was started while the tablet was cut off.

    Raises TickRefused if the step has no timer.
    """
    others = hold_job(run)  # of two starts at once, the second finds the first
    step = step_of_run(run, step_key)
    if not step.timer:
        raise TickRefused(f"“{step.title}” has no timer.")
    running = _running_in_job(run, step, others)
    sent_before = StepTimer.objects.filter(client_id=client_id).first()
    if sent_before is not None or running is not None:
        return sent_before or running  # type: ignore[return-value]
    timer = StepTimer(
        run=run,
        step=step,
        client_id=client_id,
        seconds=round(step.timer["minutes"] * 60),
        started_at=started_at or timezone.now(),
        by_id=by.pk if by else None,
    )
    timer.full_clean(exclude=["run", "step", "by"])
    timer.save()
    return timer


def stop_timer(*, run: Run, client_id: uuid.UUID, stopped_at: dt.datetime | None = None) -> None:
    """Stop the timer of that id, in whichever run of the job it began. A stopped one keeps the time at which it was."""
    timers = StepTimer.objects.filter(run__job=run.job, client_id=client_id, stopped_at__isnull=True)
    timers.update(stopped_at=Greatest(F("started_at"), Value(stopped_at or timezone.now(), output_field=_MOMENT)))


def stop_timers_at(*, run: Run, step_key: str, stopped_at: dt.datetime) -> None:
    """The step was answered, which ends its wait: no timer at it runs on, in whichever run of the job it began."""
    timers = StepTimer.objects.filter(run__job=run.job, step__key=step_key, stopped_at__isnull=True)
    timers.update(stopped_at=Greatest(F("started_at"), Value(stopped_at, output_field=_MOMENT)))


def _running_in_job(run: Run, step: Step, others: Sequence[Run]) -> StepTimer | None:
    """A timer that runs at this step, here or at the same step of another run of the job."""
    rows = StepTimer.objects.filter(run__in=[run, *others], step__key=step.key, stopped_at__isnull=True)
    for timer in rows.select_related("run", "step"):
        if timer.step_id == step.pk or reads_the_same(step, run.facts, timer.step, timer.run.facts):
            return timer
    return None
