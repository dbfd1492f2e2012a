"""What the customer said to each estimate, and what follows from it for the work."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from workshop.charges.agreeing import agreed_limit
from workshop.charges.models import Agreement
from workshop.charges.sums import NOTHING
from workshop.tickets.models import Ticket
from workshop.web.number_words import shop_money


@dataclass(frozen=True)
class Decided:
    """A yes or no; `stands` while no later answer replaces it, and then `follows` says what changes by it."""

    answer: Agreement
    stands: bool
    follows: str


def answers_to(ticket: Ticket) -> list[Agreement]:
    """Every answer to the ticket's estimates, oldest first; one query."""
    return list(ticket.agreements.select_related("document", "by", "variant").defer("document__data"))


def decided(ticket: Ticket, answers: Sequence[Agreement], dangers: Sequence[str] = ()) -> list[Decided]:
    """The answers, newest first, with what follows from the last one. Asks the database nothing.

    Args:
        answers: all of the ticket's, oldest first.
        dangers: what is dangerous on the unit and was not put right, in words.
    """
    last = answers[-1] if answers else None
    rows = [
        Decided(answer, answer is last, _follows(ticket, answers, answer, dangers) if answer is last else "")
        for answer in answers
    ]
    return rows[::-1]


def _follows(ticket: Ticket, answers: Sequence[Agreement], last: Agreement, dangers: Sequence[str]) -> str:
    limit = agreed_limit(ticket.price_ceiling, answers)
    up_to = shop_money(limit, ticket.shop)
    if last.agreed:
        return f"What it lists may be done, up to {up_to} in total."
    said = "What it lists is not done."
    said += " Nothing is agreed that costs anything." if limit == NOTHING else f" Up to {up_to} may still be charged."
    if dangers:
        said += f" Not put right, it must not be ridden: {'; '.join(dangers)}."
    return said
