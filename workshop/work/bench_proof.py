"""From the bench to ready: when the proof holds, or when somebody answers for doing without it."""

from __future__ import annotations

from django.db import transaction

from workshop.staff.models import User
from workshop.tickets.models import StateMove, Ticket
from workshop.work.moves import move


@transaction.atomic
def finish_bench_work(*, ticket: Ticket, by: User, seen_version: int, reason_without_proof: str = "") -> StateMove:
    """The work is done and the ticket is ready.

    Raises:
        workshop.work.moves.ProofMissing: something is not proved and no reason is given, or by somebody who
            may not decide it.
        workshop.work.moves.LeftOpen: something is open or unknown; a reason does not help.
        workshop.work.moves.UnlawfulMove, workshop.web.versions.StaleVersion: as workshop.work.moves.move.
    """
    reason = reason_without_proof.strip()
    return move(
        ticket=ticket,
        to_state=Ticket.State.READY,
        by=by,
        seen_version=seen_version,
        reason=reason,
        without_proof=bool(reason),
    )
