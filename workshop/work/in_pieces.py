"""A unit that leaves in pieces: what is open on it, and why it was let go like that."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from diagnosis.runs_state import RunState, states_of
from workshop.tickets.models import Ticket
from workshop.tickets.refusals import UnlawfulMove
from workshop.work.proof import left_open

State = Ticket.State


@dataclass(frozen=True)
class Pieces:
    """What is open or unknown, in words, and the reason with which it was handed back, if it was."""

    words: tuple[str, ...] = ()
    reason: str = ""


class InPieces(UnlawfulMove):
    """It would go back to the customer with something open, and nobody has said why; `pieces` says what."""

    def __init__(self, pieces: Pieces) -> None:
        named = ", ".join(f"“{words}”" for words in pieces.words)
        super().__init__(f"It goes back in pieces: {named}. Say why, and that the customer was told not to ride it.")
        self.pieces = pieces


def pieces_of(ticket: Ticket, states: Sequence[RunState] | None = None) -> Pieces:
    """What is in pieces on a ticket that is called off, ready or handed back; nothing while it is worked on.

    After hand-back it is what was written down then. `states`, the ticket's runs, save their queries.
    """
    if ticket.state == State.HANDED_BACK:
        line = ticket.events.filter(kind="back_in_pieces").last()
        if line is None:
            return Pieces()
        last = ticket.moves.filter(to_state=State.HANDED_BACK).last()
        return Pieces(tuple(line.values["open"]), last.reason if last else "")
    if ticket.state not in (State.CALLED_OFF, State.READY):
        return Pieces()
    if states is None:
        states = states_of(row.run for row in ticket.ticket_runs.select_related("run__checklist"))
    # For one that is ready a mechanic has answered already for what an old checklist does not say.
    unsaid = ticket.state == State.CALLED_OFF
    return Pieces(tuple(entry.words for entry in left_open(states) if entry.is_danger or (unsaid and entry.is_unsaid)))
