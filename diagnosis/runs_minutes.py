"""Minutes written down by hand for a step, where the times of its ticks are wrong. Rows are added, never edited."""

from __future__ import annotations

import uuid

from django.contrib.auth.base_user import AbstractBaseUser
from django.db import transaction

from diagnosis.models import MinutesCorrection, Run, Tick
from diagnosis.runs import step_of_run
from diagnosis.runs_refusals import TickRefused


class StaleMinutes(Exception):
    """Somebody put the minutes right after the sender saw them; `latest` is what counts now."""

    def __init__(self, latest: MinutesCorrection) -> None:
        super().__init__(f"{latest.step} was put right meanwhile.")
        self.latest = latest


@transaction.atomic
def correct_minutes(
    *, run: Run, step_key: str, minutes: float, by: AbstractBaseUser | None, client_id: uuid.UUID, seen: int | None
) -> MinutesCorrection:
    """Say what a step really took. The same `client_id` again gives the stored row.

    Args:
        seen: the id of the correction that counted when the sender looked; None where the clock's figure did.

    Raises:
        StaleMinutes: another correction counts by now.
        TickRefused: the step was never ticked in this run, so there is no time to correct.
        ValidationError: minutes below 0 or above a day.
    """
    stored = MinutesCorrection.objects.filter(client_id=client_id).first()
    if stored is not None:
        return stored
    step = step_of_run(run, step_key)
    if not Tick.objects.filter(run=run, step=step, counted_from=None).exists():
        raise TickRefused(f"“{step.title}” was not ticked, so it has no minutes yet.")
    Run.objects.select_for_update().only("pk").get(pk=run.pk)  # of two at once, the second sees the first's
    latest = MinutesCorrection.objects.select_related("by").filter(run=run, step=step).last()
    if latest is not None and latest.pk != seen:
        raise StaleMinutes(latest)
    made = MinutesCorrection(run=run, step=step, minutes=minutes, client_id=client_id, by_id=by.pk if by else None)
    made.full_clean(exclude=["run", "step", "by"])
    made.save()
    return made
