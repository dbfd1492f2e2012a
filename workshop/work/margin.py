"""What a ticket earns: what is charged without tax, less what its parts cost by the stores' moving average.

What a line cost is what the stores' value fell by as it went out (IAS 2, 25 and 27, as workshop.stock.average has
it). A cost that nobody knows is said, and no margin is told beside it. Labour has no cost in these records.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from workshop.charges.sums import NOTHING, to_cents
from workshop.charges.ticket_charges import charges_of, standing_charges
from workshop.stock.average import Pool
from workshop.stock.models import StockMovement
from workshop.stock.value import move_value
from workshop.tickets.models import PartLine, Ticket

Kind = StockMovement.Kind


@dataclass(frozen=True)
class LineCost:
    """A part that was used, and what it cost, to the cent; None where nobody knows."""

    line: PartLine
    cost: Decimal | None


@dataclass(frozen=True)
class TicketMargin:
    """`net` is charged without tax; `lines` are the parts that were used."""

    net: Decimal
    lines: Sequence[LineCost]

    @property
    def unknown(self) -> Sequence[LineCost]:
        return [one for one in self.lines if one.cost is None]

    @property
    def known_cost(self) -> Decimal:
        return sum((one.cost for one in self.lines if one.cost is not None), NOTHING)

    @property
    def margin(self) -> Decimal | None:
        """None where a cost is not known."""
        return None if self.unknown else self.net - self.known_cost

    @property
    def percent(self) -> Decimal | None:
        """Of what is charged; None where that is nothing, or a cost is not known."""
        if self.margin is None or self.net <= 0:
            return None
        return (self.margin * 100 / self.net).quantize(Decimal("0.1"))


def margin_of(ticket: Ticket) -> TicketMargin:
    """As it was charged, or while the ticket is open as it would be by what was used so far.

    In a fixed number of queries; reads all movements of its parts up to its own last.
    """
    handed_back = ticket.state == Ticket.State.HANDED_BACK
    charges = standing_charges(ticket)[0] if handed_back else charges_of(ticket, used_only=True)
    used = ticket.part_lines.filter(status=PartLine.Status.USED).select_related("part").order_by("pk")
    lines = list(used)
    costs = _costs_of([line.pk for line in lines])
    shown = [LineCost(line, None if (cost := costs.get(line.pk)) is None else to_cents(cost)) for line in lines]
    return TicketMargin(charges.net, shown)


def _costs_of(lines: Sequence[int]) -> dict[int, Decimal | None]:
    """What each of some lines took out of the stores' value and did not put back, by its key; None not known."""
    own = StockMovement.objects.filter(part_line__in=lines)
    last = own.order_by("-pk").values_list("pk", flat=True).first()
    if last is None:
        return {}
    moved = StockMovement.objects.filter(item__in=own.values("item"), pk__lte=last).order_by("pk")
    pools, costs = defaultdict[int, Pool](Pool), dict[int, Decimal | None]()
    wanted = set(lines)
    rows = moved.values_list("item", "kind", "quantity", "unit_cost", "part_line")
    for item, kind, quantity, unit_cost, line in rows.iterator(chunk_size=5000):
        cost = move_value(pools[item], kind, quantity, unit_cost, line)
        if line not in wanted:
            continue
        if kind == Kind.RETURNED:
            costs.pop(line, None)
        else:
            costs[line] = cost
    return costs
