"""The moving weighted average cost of what is kept (IAS 2, 25 and 27). Decimals only; no Django."""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal

NOTHING = Decimal(0)
_LEAST = Decimal("0.005")  # amounts have two decimals; shares of them are cut off after 28 digits


@dataclass
class Pool:
    """What is there and what it cost, movement by movement.

    Of `unknown` of what is there nobody knows the cost. It is in no value, and goes out in its share.
    """

    known: Decimal = NOTHING
    value: Decimal = NOTHING
    unknown: Decimal = NOTHING
    _out: dict[int, tuple[Decimal, Decimal, Decimal]] = field(default_factory=dict)

    @property
    def level(self) -> Decimal:
        return self.known + self.unknown

    @property
    def average(self) -> Decimal | None:
        """What each costs; None where nobody knows."""
        return self.value / self.known if self.known > 0 else None

    def bought(self, quantity: Decimal, cost: Decimal | None) -> None:
        """Came in at a cost each."""
        if cost is None:
            self.unknown += quantity
        else:
            self.known += quantity
            self.value += quantity * cost

    def found(self, quantity: Decimal) -> None:
        """Counted beyond what the stores showed: at the average, where there is one."""
        self.bought(quantity, self.average)

    def went(self, quantity: Decimal, line: int | None = None) -> Decimal | None:
        """Went out at the average; gives what that cost, None where not all of it is known.

        Args:
            line: the key of the ticket's line that took it, so that what comes back is put back as it went.
        """
        unknown = self.unknown * quantity / self.level if self.level > 0 else NOTHING
        known = quantity - unknown
        cost = known * (self.average or NOTHING)
        if line is not None:
            before = self._out.get(line, (NOTHING, NOTHING, NOTHING))
            self._out[line] = (before[0] + known, before[1] + cost, before[2] + unknown)
        self._take(known, cost, unknown)
        return None if unknown else cost

    def came_back(self, quantity: Decimal, line: int | None) -> None:
        """Back from a ticket, at what it went out at; at the average where that is not known."""
        went = self._out.pop(line, None) if line is not None else None
        if went is None or went[0] + went[2] != quantity:
            self.found(quantity)
        else:
            self._take(-went[0], -went[1], -went[2])

    def unbought(self, quantity: Decimal, cost: Decimal | None) -> None:
        """Back to who sold it, at what it was bought at; at the average where that is more than is left of it."""
        if cost is None or quantity > self.known or quantity * cost > self.value:
            self.went(quantity)
        else:
            self._take(quantity, quantity * cost, NOTHING)

    def _take(self, known: Decimal, cost: Decimal, unknown: Decimal) -> None:
        self.known, self.value, self.unknown = self.known - known, self.value - cost, self.unknown - unknown
        if self.level < _LEAST:  # an empty shelf is worth nothing, to the last digit
            self.known = self.value = self.unknown = NOTHING
