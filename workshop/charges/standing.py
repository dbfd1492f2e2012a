"""What the pages of a ticket say about its charges."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from workshop.charges.agreeing import OverAgreed, agreed_limit, left_of_all, over_limits
from workshop.charges.decided import answers_to
from workshop.charges.models import Agreement, TaxRules
from workshop.charges.sums import Charges
from workshop.charges.ticket_charges import standing_charges
from workshop.tickets.models import PartLine, Ticket


@dataclass(frozen=True)
class ChargesStanding:
    """Charges, what was agreed, and the answers that say so, the newest first."""

    charges: Charges
    rules: TaxRules
    limit: Decimal | None
    over: OverAgreed | None
    answers: Sequence[Agreement]
    left_of_all: Decimal | None = None
    """What the ceiling of its visit leaves for it; None without one."""

    @property
    def last_answer(self) -> Agreement | None:
        return self.answers[0] if self.answers else None


def charges_standing(
    ticket: Ticket, part_lines: Iterable[PartLine] | None = None, answers: Sequence[Agreement] | None = None
) -> ChargesStanding:
    """In four queries, one more where the ticket's part lines are not given, one less with its `answers`, the oldest
    first, and a fixed number more where its visit has a ceiling.
    """
    charges, rules = standing_charges(ticket, part_lines)
    answers = answers_to(ticket) if answers is None else answers
    limit = agreed_limit(ticket.price_ceiling, answers)
    left = left_of_all(ticket)
    over = None if ticket.state == Ticket.State.HANDED_BACK else over_limits(ticket, charges.gross, answers, left)
    return ChargesStanding(charges, rules, limit, over, answers[::-1], left)


def not_used(ticket: Ticket) -> int:
    """Parts that are still needed; at hand-back they are not charged."""
    return ticket.part_lines.filter(status=PartLine.Status.NEEDED).count()
