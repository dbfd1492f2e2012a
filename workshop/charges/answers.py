"""Answers of customers to tickets that wait for one: who may be gone on with."""

from __future__ import annotations

from django.db.models import F, OuterRef, QuerySet, Subquery

from workshop.charges.models import Agreement
from workshop.staff.models import Shop
from workshop.tickets.models import Ticket


def answered_tickets(shop: Shop) -> set[int]:
    """Keys of the tickets that wait for the customer and have an answer since they began to; one query."""
    answers = Agreement.objects.filter(
        ticket__shop=shop,
        ticket__state=Ticket.State.WAITING,
        ticket__waiting_for=Ticket.WaitingFor.CUSTOMER,
        at__gte=F("ticket__state_since"),
    )
    return set(answers.values_list("ticket", flat=True))


def with_answer(tickets: QuerySet[Ticket]) -> QuerySet[Ticket]:
    """With `answer_agreed`, `answer_at` and `answer_note` of the last answer; None where nobody answered yet."""
    last = Agreement.objects.filter(ticket=OuterRef("pk")).order_by("-pk")
    return tickets.annotate(**{f"answer_{name}": Subquery(last.values(name)[:1]) for name in ("agreed", "at", "note")})
