"""Saying at the bench that a ticket's unit is otherwise than its ticks have it; it stands in the logbook."""

from __future__ import annotations

import uuid

from django.db import transaction

from diagnosis.models import Run, ToldOtherwise
from diagnosis.runs_told import take_told_back, tell
from workshop.staff.models import User
from workshop.tickets.logbook import log
from workshop.tickets.models import Ticket
from workshop.work.work import NotOnTheBench


@transaction.atomic
def tell_of_unit(
    *,
    ticket: Ticket,
    run: Run,
    condition: str,
    by: User,
    client_id: uuid.UUID,
    seen_version: int,
    seen_said: int,
    note: str = "",
) -> None:
    """Keep what was said, a condition such as “wheel=in”. Raises NotOnTheBench, and as diagnosis.runs_told.tell."""
    if ticket.state != Ticket.State.ON_THE_BENCH:
        raise NotOnTheBench(ticket)
    part, _, value = condition.partition("=")
    told, is_new = tell(
        run=run, part=part, value=value, by=by, client_id=client_id, seen_version=seen_version, seen_said=seen_said,
        note=note,
    )  # fmt: skip
    if is_new:
        log(ticket=ticket, by=by, kind="unit_told", values={"part": part, "value": value, "note": told.note})


@transaction.atomic
def take_back_what_was_told(*, ticket: Ticket, run: Run, told: ToldOtherwise, by: User, client_id: uuid.UUID) -> None:
    """It was a mistake. Twice is harmless. Raises NotOnTheBench."""
    if ticket.state != Ticket.State.ON_THE_BENCH:
        raise NotOnTheBench(ticket)
    _, is_new = take_told_back(run=run, told=told, by=by, client_id=client_id)
    if is_new:
        log(ticket=ticket, by=by, kind="unit_told_back", values={"part": told.part, "value": told.value})
