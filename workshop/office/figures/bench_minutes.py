"""How long the steps took at the bench, against what the checklist plans. No Django."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from workshop.office.figures.quantiles import METHOD, median, percentile
from workshop.office.figures.sheet import CellKind, Figure, FigureColumn, FigureRow, Section, Tickets
from workshop.plots.bars import BarValue, bars
from workshop.web.durations import duration_words

FEWEST_TO_COMPARE = 3
MOST_BARS = 12
COLUMNS = (
    FigureColumn("Step"),
    FigureColumn("In"),
    FigureColumn("Times", CellKind.COUNT),
    FigureColumn("Planned, min", CellKind.MINUTES),
    FigureColumn("Median, min", CellKind.MINUTES),
    FigureColumn("90th percentile, min", CellKind.MINUTES),
    FigureColumn("Over the plan in total, h", CellKind.HOURS),
)


@dataclass(frozen=True)
class StepMinutesFigure:
    """What one step took, in every checklist that has it, each time it can be told, and on which tickets."""

    checklist: str
    step: str
    planned: float
    minutes: Sequence[float]
    tickets: Sequence[int]

    @property
    def over_hours(self) -> float:
        """Hours that all of them took more than planned, less where they took less."""
        return sum(minutes - self.planned for minutes in self.minutes) / 60


def bench_minutes(steps: Sequence[StepMinutesFigure]) -> Figure:
    """Steps by how much time they took beyond the plan."""
    ordered = sorted(steps, key=lambda step: (-step.over_hours, step.checklist, step.step))
    rows = tuple(
        FigureRow(
            f"{step.step}, {step.planned:g}",
            (
                step.step,
                step.checklist,
                Tickets.of(step.tickets),
                step.planned,
                median(step.minutes),
                percentile(step.minutes, 0.9),
                step.over_hours,
            ),
        )
        for step in ordered
    )
    compared = [step for step in ordered if len(step.minutes) >= FEWEST_TO_COMPARE]
    drawn = [
        BarValue(step.step, middle, f"{middle:.0f}", step.planned)
        for step in compared[:MOST_BARS]
        if (middle := median(step.minutes)) is not None
    ]
    section = Section(
        "steps",
        "Minutes by step",
        COLUMNS,
        rows,
        bars(
            key="steps",
            rows=drawn,
            x_label="minutes",
            bar_words="median",
            mark_words="planned",
            summary="Median minutes of the steps that took most time beyond the plan. The figures are in the table.",
        ),
        (f"Drawn are the steps that took most time beyond the plan, of those done {FEWEST_TO_COMPARE} times or more.",),
        "No step of these days has a time of its own.",
    )
    over, planned = sum(step.over_hours for step in steps), sum(step.planned * len(step.minutes) / 60 for step in steps)
    if not planned:
        headline = "No step of these days has a time of its own."
    else:
        word = "more" if over >= 0 else "less"
        headline = f"In total {duration_words(60 * abs(over))} {word} than the {duration_words(60 * planned)} planned."
    return Figure(
        headline,
        (section,),
        (
            "Of the tickets handed back in these days. A step lasts from the tick before it to its own; gaps too long "
            "to be work are left out, and so are steps ticked together, answers taken back, and steps left out.",
            f"Median and 90th percentile as in the {METHOD}. The plan is that of the checklist as it was then; a "
            "step that is planned otherwise in another checklist, or was, has a row of its own.",
        ),
    )
