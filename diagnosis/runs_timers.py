"""Timers at a step, such as foam rings soaking. They count from the start, so a reload loses nothing."""

from __future__ import annotations

import datetime as dt
import uuid

from django.contrib.auth.base_user import AbstractBaseUser
from django.db import transaction
from django.utils import timezone

from diagnosis.models import Run, StepTimer
from diagnosis.runs import step_of_run
from diagnosis.runs_refusals import TickRefused


@transaction.atomic
def start_timer(
    *,
    run: Run,
    step_key: str,
    by: AbstractBaseUser | None,
    client_id: uuid.UUID,
    started_at: dt.datetime | None = None,
) -> StepTimer:
    """Start the step's timer; one that already runs is given back instead. Raises TickRefused if it has none.

    `started_at` is earlier than now for a timer that was started while the tablet was cut off.
    """
    Run.objects.select_for_update().get(pk=run.pk)  # of two starts at once, the second finds the first
    step = step_of_run(run, step_key)
    if not step.timer:
        raise TickRefused(f"“{step.title}” has no timer.")
    running = StepTimer.objects.filter(run=run, step=step, stopped_at__isnull=True).first()
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
    """Stop the run's timer of that id. One that was stopped keeps the time at which it was."""
    timers = StepTimer.objects.filter(run=run, client_id=client_id, stopped_at__isnull=True)
    timers.update(stopped_at=stopped_at or timezone.now())
