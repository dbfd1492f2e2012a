"""The drawing of where to order again: what its axes are, in words that fit one day as well as many."""

from __future__ import annotations

from decimal import Decimal

import pytest

from workshop.stock.reorder_point import Use, reorder_point
from workshop.stores.reorder_drawing import chances_drawn


@pytest.mark.parametrize(("lead_days", "wait"), [(20, "20 days"), (1, "1 day")])
def test_both_axes_say_what_they_are(lead_days: int, wait: str) -> None:
    use = Use(30, Decimal(30), Decimal(30), 300)
    point = reorder_point(use, lead_days=lead_days)
    assert point is not None
    plot = chances_drawn(point, use)
    assert plot is not None
    assert (plot.x_label, plot.y_label) == (f"number of uses within {wait}", "% of waits")
    assert f"within {wait}, in per cent" in plot.summary
