"""Minutes written down by hand for a step, where the times of its ticks are wrong. Rows are added, never edited."""

from __future__ import annotations

import uuid

from django.contrib.auth.base_user import AbstractBaseUser
from django.db import transaction

from diagnosis.models import MinutesCorrection, Run, Tick
from diagnosis.runs import step_of_run
from diagnosis.runs_refusals import TickRefused


@transaction.atomic
def correct_minutes(
    *, run: Run, step_key: str, minutes: float, by: AbstractBaseUser | None, client_id: uuid.UUID
) -> MinutesCorrection:
    """Say what a step really took. The same `client_id` again gives the stored row.

    Raises:
        TickRefused: the step was never ticked in this run, so there is no time to correct.
        ValidationError: minutes below 0 or above a day.
    """
    stored = MinutesCorrection.objects.filter(client_id=client_id).first()
    if stored is not None:
        return stored
    step = step_of_run(run, step_key)
    if not Tick.objects.filter(run=run, step=step, counted_from=None).exists():
        raise TickRefused(f"“{step.title}” was not ticked, so it has no minutes yet.")
    made = MinutesCorrection(run=run, step=step, minutes=minutes, client_id=client_id, by_id=by.pk if by else None)
    made.full_clean(exclude=["run", "step", "by"])
    made.save()
    return made
