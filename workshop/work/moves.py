"""The states of a ticket and the lawful moves between them."""

from __future__ import annotations

from collections.abc import Mapping

from django.db import transaction
from django.utils import timezone

from diagnosis.models import Run
from workshop.charges.agreeing import OverAgreed, over_agreed
from workshop.staff.models import User
from workshop.staff.roles import Right
from workshop.tickets.booking import hold_numbers
from workshop.tickets.logbook import log
from workshop.tickets.models import StateMove, Ticket
from workshop.tickets.one_open import check_opens_alone, count_the_next
from workshop.tickets.refusals import UnlawfulMove as UnlawfulMove
from workshop.web.versions import take_version
from workshop.work.in_pieces import InPieces, pieces_of
from workshop.work.proof import MissingProof, first_of, missing_in_words, missing_proof_of
from workshop.work.unresolved import check_parts_are_resolved
from workshop.work.unsafe import LONGEST_NAME, Unsigned, unsafe_of

State = Ticket.State

LAWFUL_MOVES: Mapping[str, tuple[str, ...]] = {
    State.BOOKED_IN: (State.ON_THE_BENCH, State.WAITING, State.CALLED_OFF),
    State.ON_THE_BENCH: (State.WAITING, State.READY, State.BOOKED_IN, State.CALLED_OFF),
    State.WAITING: (State.ON_THE_BENCH, State.BOOKED_IN, State.CALLED_OFF),
    State.READY: (State.HANDED_BACK, State.ON_THE_BENCH),
    State.HANDED_BACK: (),
    State.CALLED_OFF: (State.BOOKED_IN, State.HANDED_BACK),
}


class ProofMissing(UnlawfulMove):
    """The ticket has something to prove before it is ready; `missing` says what."""

    def __init__(self, missing: list[MissingProof]) -> None:
        super().__init__(f"Not ready yet. Still to be proved on the bench: {missing_in_words(missing)}.")
        self.missing = missing


class LeftOpen(UnlawfulMove):
    """Something that was opened is not closed again, or nobody knows whether it is; `missing` says what."""

    def __init__(self, missing: list[MissingProof]) -> None:
        super().__init__(
            f"Not ready. First put right on the bench: {missing_in_words(missing, most=12)}. No reason does instead."
        )
        self.missing = missing


class DangerUnanswered(UnlawfulMove):
    """Something dangerous was found and nothing answers it; `missing` says what."""

    def __init__(self, missing: list[MissingProof]) -> None:
        named = ", ".join(f"“{entry.finding.title}”" for entry in missing if entry.finding)
        super().__init__(
            f"Not ready: dangerous, not to be ridden: {named}. Put it right, or record the customer’s no: then it "
            "is handed back unsafe. No reason does instead."
        )
        self.missing = missing


class AgreementMissing(UnlawfulMove):
    """The charges are beyond what the customer agreed to; `over` says by how much."""

    def __init__(self, over: OverAgreed, ticket: Ticket) -> None:
        instead = "" if ticket.is_open else " Charge less, or put it back in the queue and ask the customer."
        super().__init__(f"{over.sums}{instead}" if instead else str(over))
        self.over = over


def moves_from(state: str) -> tuple[str, ...]:
    """The states a ticket in `state` may go to."""
    return LAWFUL_MOVES[State(state)]


def check_move(from_state: str, to_state: str, waiting_for: str = "") -> None:
    """Raise UnlawfulMove, in the shop's words, for a move that is not in LAWFUL_MOVES."""
    if to_state not in State.values:
        raise UnlawfulMove(f"There is no state “{to_state}”.")
    if to_state not in LAWFUL_MOVES[State(from_state)]:
        ways = " or ".join(f"“{State(way).label}”" for way in moves_from(from_state))
        can = f"It can go to {ways}." if ways else "It stays where it is."
        raise UnlawfulMove(
            f"A ticket that is “{State(from_state).label}” cannot become “{State(to_state).label}”. {can}"
        )
    if to_state == State.WAITING and waiting_for not in Ticket.WaitingFor.values:
        raise UnlawfulMove("Say what the ticket waits for: parts or the customer’s answer.")


@transaction.atomic
def move(
    *,
    ticket: Ticket,
    to_state: str,
    by: User | None,
    seen_version: int,
    waiting_for: str = "",
    reason: str = "",
    without_proof: bool = False,
    signed_by: str = "",
) -> StateMove:
    """Take a ticket to another state and keep who, when and why.

    Args:
        without_proof: a mechanic or the owner answers for it, with a reason, that the ticket is ready unproved.
        signed_by: the name of who takes back a unit that is not to be ridden.

    Raises:
        UnlawfulMove: the state is unknown, or cannot follow the present one.
        OpenElsewhere: it would be open again beside another ticket of its unit.
        PartsUnresolved: it would be ready, or go back to the customer, with parts neither used nor not used.
        AgreementMissing: it would be ready, or go back to the customer, with charges nobody agreed to.
        ProofMissing: the ticket would be ready without the proof its checklists ask for.
        InPieces: it would go back to the customer with something open or unknown on it, without a reason.
        Unsigned: it would go back with a danger on it that was not put right, and nobody signed for it.
        DangerUnanswered: it would be ready with a danger that nothing answers; no reason lets that go.
        LeftOpen: it would be ready with something open or unknown on it; no reason lets that go.
        workshop.web.versions.StaleVersion: somebody changed the ticket after it was opened.
    """
    if not ticket.is_open:
        hold_numbers(ticket.shop)  # who books its unit in, or opens another ticket of it, queues here
    take_version(ticket, seen_version)
    check_move(ticket.state, to_state, waiting_for)
    check_opens_alone(ticket, to_state)
    check_parts_are_resolved(ticket, to_state)
    _check_agreed(ticket, to_state)
    if to_state == State.HANDED_BACK:
        _leave_open_or_unsafe(ticket, by, reason, signed_by)
    if to_state == State.READY:
        _check_ready(ticket, by, reason if without_proof else "")
    moved = {"from_state": ticket.state, "from_waiting_for": ticket.waiting_for, "to_state": to_state}
    now = timezone.now()
    made = StateMove(
        ticket=ticket,
        from_state=ticket.state,
        to_state=to_state,
        waiting_for=waiting_for if to_state == State.WAITING else "",
        reason=reason,
        by=by,
        at=now,
    )
    ticket.state = to_state
    ticket.waiting_for = made.waiting_for
    ticket.state_since = now
    if to_state == State.ON_THE_BENCH and by is not None and by.may(Right.HAS_A_BENCH):
        ticket.mechanic = by
    made.save()
    if to_state == State.READY:
        Run.objects.filter(pk__in=ticket.ticket_runs.values("run"), ended_at=None).update(ended_at=now)
    if not ticket.is_open:
        ticket.doubled_at = None
    ticket.save(update_fields=["state", "waiting_for", "state_since", "mechanic", "doubled_at"])
    if not ticket.is_open:
        count_the_next(ticket)
    log(ticket=ticket, by=by, kind="moved", values={**moved, "waiting_for": ticket.waiting_for, "reason": reason})
    return made


def _leave_open_or_unsafe(ticket: Ticket, by: User | None, reason: str, signed_by: str) -> None:
    """What is open on it goes with a reason, what is dangerous on it with a name; both stand in the logbook."""
    pieces, unsafe = pieces_of(ticket), unsafe_of(ticket)
    if pieces.words and not reason.strip():
        raise InPieces(pieces)
    if unsafe.words and not signed_by.strip():
        raise Unsigned(unsafe)
    if pieces.words:
        log(ticket=ticket, by=by, kind="back_in_pieces", values={"open": list(pieces.words)})
    if unsafe.words:
        signed = {"dangers": list(unsafe.words), "signed_by": signed_by.strip()[:LONGEST_NAME]}
        log(ticket=ticket, by=by, kind="back_unsafe", values=signed)


def _check_ready(ticket: Ticket, by: User | None, reason: str) -> None:
    """Nothing open, no danger unanswered; what else is missing goes with a reason of somebody who answers for it."""
    unproved = missing_proof_of(ticket)
    if still_open := [entry for entry in unproved if entry.is_danger]:
        raise LeftOpen(still_open)
    if dangers := [entry for entry in unproved if entry.must_not_ride]:
        raise DangerUnanswered(dangers)
    if unproved:
        _check_waiver(unproved, by, reason)
        log(ticket=ticket, by=by, kind="ready_unproved", values=first_of(unproved))


def _check_agreed(ticket: Ticket, to_state: str) -> None:
    """Work beyond what was agreed is not done. Before hand-back, a part that is still needed counts as charged."""
    if to_state not in (State.READY, State.HANDED_BACK):
        return
    over = over_agreed(ticket, used_only=to_state == State.HANDED_BACK)
    if over is not None:
        raise AgreementMissing(over, ticket)


def _check_waiver(unproved: list[MissingProof], by: User | None, reason: str) -> None:
    """Only somebody who answers for the work may do without the proof, and only with a reason."""
    may = by is not None and by.may(Right.WAIVE_PROOF)
    if not (may and reason.strip()):
        raise ProofMissing(unproved)
