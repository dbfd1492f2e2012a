"""How often a part is used while a delivery is waited for, as columns."""

from __future__ import annotations

from workshop.plots.columns import Columns, Fill, Series, columns
from workshop.stock.reorder_point import ReorderPoint, Use, chances_of_uses

_LEAST, _MOST = 6, 24


def chances_drawn(point: ReorderPoint, use: Use) -> Columns | None:
    """The chance of each number of uses within one wait; hatched are those for which the mark does not last.

    None where so many are expected that the columns would say nothing one by one.
    """
    if point.by_normal_law:
        return None
    wait = f"{point.lead_days} day{'' if point.lead_days == 1 else 's'}"
    lasts = int(point.mark / (use.quantity / use.uses))
    most = min(max(lasts + 3, _LEAST), _MOST)
    chances = [round(100 * chance, 2) for chance in chances_of_uses(point, most)]
    return columns(
        key="reorder",
        places=[str(number) for number in range(most + 1)],
        series=[
            Series("lasts", [one if number <= lasts else None for number, one in enumerate(chances)], Fill.SOLID),
            Series("runs out", [one if number > lasts else None for number, one in enumerate(chances)], Fill.HATCHED),
        ],
        x_label=f"number of uses within {wait}",
        y_label="% of waits",
        summary=(
            f"How often it is used within {wait}, in per cent of waits: {point.uses:.1f} times on "
            f"average. The suggested reorder point lasts for {lasts} uses; "
            f"in {100 * point.chance:.1f} % of waits there are more."
        ),
        stacked=True,
    )
