"""How often closed tickets with a complaint took a part of each role, kept for some minutes by each worker."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

from django.core.cache import cache

from workshop.staff.models import Shop
from workshop.tickets.models import PartLine, Ticket

KEPT_SECONDS = 600
NEWEST_TICKETS = 2000
"""Older tickets say little about today’s work, and a page must not grow slower with the years."""
Reason = tuple[int | None, str]
"""A complaint (None: none was chosen) and the kind of unit."""


@dataclass(frozen=True)
class PartsLearned:
    """Closed tickets by complaint and kind of unit, and how many of them used a part of each role.

    Only tickets with one complaint, or none, are counted: of several nobody knows which of them wanted the part.
    """

    closed: Counter[Reason] = field(default_factory=Counter)
    used: Counter[tuple[Reason, str]] = field(default_factory=Counter)

    def of(self, reason: Reason, role: str) -> tuple[int, int]:
        """How many used a part of the role, of how many."""
        return self.used[reason, role], self.closed[reason]


def parts_learned(shop: Shop) -> PartsLearned:
    """What the newest handed-back tickets of units with a known model say: three queries every ten minutes."""
    key = f"parts_learned:{shop.pk}"
    kept: PartsLearned | None = cache.get(key)
    if kept is None:
        kept = _learn(shop)
        cache.set(key, kept, KEPT_SECONDS)
    return kept


def _learn(shop: Shop) -> PartsLearned:
    newest = Ticket.objects.filter(shop=shop, state=Ticket.State.HANDED_BACK).order_by("-number")
    rows = newest.values_list("pk", "unit__kind", "unit__model")[:NEWEST_TICKETS]
    kinds = {pk: kind for pk, kind, model in rows if model is not None}
    keys = newest.order_by("-number").values("pk")[:NEWEST_TICKETS]
    complaints: dict[int, list[int]] = {pk: [] for pk in kinds}
    for ticket, complaint in Ticket.complaints.through.objects.filter(ticket__in=keys).values_list(
        "ticket", "complaint"
    ):
        if ticket in complaints:
            complaints[ticket].append(complaint)
    reasons: dict[int, Reason] = {
        pk: (its[0] if its else None, kinds[pk]) for pk, its in complaints.items() if len(its) <= 1
    }
    lines = PartLine.objects.filter(ticket__in=keys, status=PartLine.Status.USED, part__isnull=False)
    used = Counter(
        (reasons[ticket], role)
        for ticket, role in lines.order_by().values_list("ticket", "part__role").distinct()
        if ticket in reasons
    )
    return PartsLearned(Counter(reasons.values()), used)
