"""Which order a run follows: the handbook's, or the suggested one once the mechanic has taken it."""

from __future__ import annotations

from django.db import transaction

from diagnosis.models import Run


@transaction.atomic
def follow_order(*, run: Run, suggested: bool) -> bool:
    """Use the suggested order, or go back to the handbook's. Whether that changed anything; a repeat is harmless.

    Answers and the version of the run stay as they are: an order taken on one tablet makes no answer on another stale.
    """
    changed = Run.objects.filter(pk=run.pk, in_suggested_order=not suggested).update(in_suggested_order=suggested)
    run.in_suggested_order = suggested
    return bool(changed)
