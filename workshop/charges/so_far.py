"""What several tickets come to so far, for a list."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection

from workshop.charges.models import Discount, LabourLine
from workshop.charges.sums import Charges
from workshop.charges.tax import agreed_rules, tax_rules_of
from workshop.charges.ticket_charges import DONE, charges_under
from workshop.staff.models import Shop
from workshop.tickets.models import PartLine, Ticket


def mark_price_so_far(shop: Shop, tickets: Collection[Ticket]) -> None:
    """Give rows of a list `so_far` (Charges), as their own pages reckon it; five queries."""
    labour: dict[int, list[LabourLine]] = defaultdict(list)
    parts: dict[int, list[PartLine]] = defaultdict(list)
    keys = [ticket.pk for ticket in tickets]
    for line in LabourLine.objects.filter(ticket__in=keys, dropped=False).order_by("pk"):
        labour[line.ticket_id].append(line)
    for part in PartLine.objects.filter(ticket__in=keys).select_related("part").order_by("pk"):
        parts[part.ticket_id].append(part)
    taken_off: dict[int, list[Discount]] = defaultdict(list)
    for off in Discount.objects.filter(ticket__in=keys, dropped=False).order_by("pk"):
        taken_off[off.ticket_id].append(off)
    rules = tax_rules_of(shop)
    agreed = agreed_rules(tickets, rules)
    for ticket in tickets:
        counted = {PartLine.Status.USED} if ticket.state in DONE else {PartLine.Status.NEEDED, PartLine.Status.USED}
        so_far: Charges = charges_under(
            agreed.get(ticket.pk, rules),
            labour[ticket.pk],
            [line for line in parts[ticket.pk] if line.status in counted],
            taken_off[ticket.pk],
        )
        ticket.so_far = so_far  # type: ignore[attr-defined]
