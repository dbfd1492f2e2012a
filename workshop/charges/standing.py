"""What the pages of a ticket say about its charges."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from workshop.charges.agreeing import OverAgreed, agreed_limit
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

    @property
    def last_answer(self) -> Agreement | None:
        return self.answers[0] if self.answers else None


def charges_standing(ticket: Ticket, part_lines: Iterable[PartLine] | None = None) -> ChargesStanding:
    """In three queries, and one more where the ticket's part lines are not given."""
    charges, rules = standing_charges(ticket, part_lines)
    answers = list(ticket.agreements.select_related("document", "by").defer("document__data"))
    limit = agreed_limit(ticket.price_ceiling, answers)
    over = None
    if limit is not None and charges.gross > limit and ticket.state != Ticket.State.HANDED_BACK:
        over = OverAgreed(charges.gross, limit, ticket.shop.currency)
    return ChargesStanding(charges, rules, limit, over, answers[::-1])


def not_used(ticket: Ticket) -> int:
    """Parts that are still needed; at hand-back they are not charged."""
    return ticket.part_lines.filter(status=PartLine.Status.NEEDED).count()
