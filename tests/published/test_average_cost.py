"""The moving weighted average of what is kept, against worked examples of accounting texts.

IAS 2 (paragraphs 25 and 27) allows it, calculated “as each additional shipment is received”, and has no example.
"""

from __future__ import annotations

from decimal import Decimal

import pytest

from workshop.stock.average import Pool

# A purchase is (units, cost each), a sale (units, the cost of it in the statement).
EXAMPLES = {
    # “Weighted Average Cost Flow Method Under Perpetual Inventory System”, an exercise with its statement at
    # justaaa.com/accounting/56626-weighted-average-cost-flow-method-under-perpetual: 36,000 left, 1,137,600.
    "textbook exercise": (
        [(30_000, "30.00"), (-24_000, "720000"), (54_000, "31.00"), (-45_000, "1390500"), (21_000, "32.10")],
        (36_000, "1137600"), "31.60",
    ),
    # “Purchase Units Unit Cost Sold Units”, answered at wizedu.com/questions/628894: 2,700 left, 1,984.50.
    "December": (
        [(3_000, "0.60"), (4_000, "0.74"), (-4_400, "2992"), (2_200, "0.80"), (-2_100, "1543.50")],
        (2_700, "1984.50"), "0.7350",
    ),
    # “Weighted average cost method for a perpetual system”, asked and answered with 5.52 as the average at
    # analystforum.com/t/perpetual-inventory-system-for-weighted-average-cost-method/121754: (2.60 + 5 × 5) / 6 = 4.60;
    # the asker's 5.52 has a slip in its sum, so only the first sale, 4 at 2.60, is held against it.
    "January": ([(2, "2"), (3, "3"), (-4, "10.40")], (1, "2.60"), "2.60"),
}  # fmt: skip


@pytest.mark.parametrize("name", EXAMPLES)
def test_it_is_what_the_text_has(name: str) -> None:
    moved, (left, value), average = EXAMPLES[name]
    pool = Pool()
    for units, money in moved:
        if units > 0:
            pool.bought(Decimal(units), Decimal(money))
        else:
            assert pool.went(Decimal(-units)) == Decimal(money)
    assert (pool.level, pool.value, pool.average) == (Decimal(left), Decimal(value), Decimal(average))
