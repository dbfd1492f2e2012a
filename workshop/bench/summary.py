"""What other pages show of the bench's work on a ticket."""

from __future__ import annotations

from typing import Any

from workshop.bench.work import findings_of, run_states
from workshop.charges.standing import charges_standing
from workshop.tickets.models import Ticket
from workshop.tickets.part_lines import lines_of, total_of


def bench_summary(ticket: Ticket) -> dict[str, Any]:
    """What the cards of findings, parts and charges take, in a fixed number of queries."""
    states = run_states(ticket)
    lines = lines_of(ticket)
    return {
        "run_states": states,
        "findings": findings_of(states),
        "part_lines": lines,
        "parts_total": total_of(lines),
        "charged": charges_standing(ticket, [shown.line for shown in lines]),
    }
