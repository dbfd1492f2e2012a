"""The service life of parts in words, a drawing and tables. It asks the database nothing."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Any

from workshop.intervals.forecast import hours_words
from workshop.office.figures.components import COMPONENTS, Component
from workshop.office.figures.lives import NOTICED_WITHIN, Lives
from workshop.office.figures.sheet import CellKind, Figure, FigureColumn, FigureRow, Section, Tickets
from workshop.office.figures.survival import (
    CONFIDENCE,
    DRAWN_ANEW,
    FEWEST_FOR_A_CURVE,
    FEWEST_FOR_A_FIT,
    ServiceLife,
    Survival,
    survival_of,
)
from workshop.plots.survival import SurvivalCurve, survival_curve

FIT_POINTS = 60
FEWEST_FOR_A_PATTERN = 10
LEAST_INTERVAL_HOURS = 1.0
SUMMARY = (
    FigureColumn("Part"),
    FigureColumn("Found bad", CellKind.COUNT),
    FigureColumn("Still good", CellKind.COUNT),
    FigureColumn("Riding not known, left out", CellKind.COUNT),
    FigureColumn("1 in 10 bad by, h", CellKind.HOURS),
    FigureColumn("Half bad by, h", CellKind.HOURS),
    FigureColumn("Fit: 1 in 10 by, h", CellKind.HOURS),
    FigureColumn("Fit: half by, h", CellKind.HOURS),
)
STEPS = (
    FigureColumn("From ride hours", CellKind.HOURS),
    FigureColumn("to ride hours", CellKind.HOURS),
    FigureColumn("May have gone bad in them", CellKind.COUNT),
    FigureColumn("Still good then", CellKind.SHARE),
    FigureColumn("at least", CellKind.SHARE),
    FigureColumn("at most", CellKind.SHARE),
)


def life_figure(lives: Mapping[str, Lives]) -> Figure:
    """All components: one table for all, and a curve for each that says something."""
    told = [
        (component, lives.get(component.key, Lives()), survival_of(_spans(lives.get(component.key, Lives()))))
        for component in COMPONENTS
    ]
    speaking = [(component, survival) for component, _, survival in told if survival.says_something]
    headline = (
        " ".join(f"{component.title}: {first_words(survival)}" for component, survival in speaking[:2])
        or "Too few parts were found bad so far to say how long they last."
    )
    summary = Section("parts", "All parts", SUMMARY, tuple(_summary_row(*row) for row in told))
    return Figure(
        headline,
        (summary, *(_section(*row) for row in told)),
        (
            "Of parts that were made new in the period, followed until today.",
            "A life begins when the part was made new here, or by a service elsewhere that we were told of, and is "
            "counted in ride hours as they are known of the unit. What counts as new and as bad is common practice, no "
            "published source.",
            "A part is found bad wherever a checklist or a service says so, and where one was put in because of a "
            "finding.",
            "Nobody saw when it went bad: it was after the last check that would have found it, or after it was new, "
            "and before it was found. So the curve slants where it is not known when the share fell, and “bad by” is "
            "the latest it can be (interval-censored). Of a fault that was the cause of a complaint we take it that "
            f"the rider came within {NOTICED_WITHIN.days} days of it; that is our choice, no published source.",
            "A part that was replaced while still good, or is still in use, was good at least so long: it counts, "
            "but not as found bad (right-censored). One in use counts as good until today, but no longer than a "
            "year after we last heard of it: a fault that shows itself brings the rider here, one that does not is "
            "counted late. A life is left out where the riding of more than a tenth of its days is not known.",
            "The curve is Turnbull’s estimate, the broken line a Weibull distribution fitted by SciPy. The lives of "
            "one unit are alike, for they are one rider’s. So the ranges come from drawing whole units anew "
            f"{DRAWN_ANEW} times: in {100 * CONFIDENCE:.0f} of 100 drawings the figure lay within. Many lives of few "
            "units say less than as many of many units, and the range is wider.",
            f"From fewer than {FEWEST_FOR_A_CURVE} found bad nothing is drawn, from fewer than {FEWEST_FOR_A_FIT} "
            "nothing is fitted; where to draw that line is our choice.",
            "It tells of this shop’s customers and their riding. The maker’s interval goes first.",
        ),
    )


def _spans(lives: Lives) -> tuple[ServiceLife, ...]:
    """Between which hours each life ended; one without a unit stands for a unit of its own."""
    return tuple(
        ServiceLife(life.good_until_hours, life.hours, life.unit or -place)
        if life.found_bad
        else ServiceLife(life.hours, math.inf, life.unit or -place)
        for place, life in enumerate(lives.lives, start=1)
    )


def first_words(survival: Survival) -> str:
    """The answer in one sentence."""
    half, tenth = survival.hours_at(0.5), survival.hours_at(0.1)
    if half is None:
        words = f"fewer than half were bad within the {hours_words(survival.longest_hours)} h seen"
    else:
        words = f"half were bad by about {hours_words(half)} h"
    return f"{words}; 1 in 10 by {hours_words(tenth)} h." if tenth is not None else f"{words}."


def sentences(component: Component, lives: Lives, survival: Survival) -> tuple[str, ...]:
    """What can honestly be said of one part."""
    counted = f"{survival.events} found bad, {survival.censored} still good when last heard of."
    if not survival.says_something:
        return (f"{counted} Too few to say how long they last. A life begins {component.begins_words}.",)
    first = first_words(survival)
    said = [f"{first[0].upper()}{first[1:]} {counted}"]
    if survival.events < FEWEST_FOR_A_PATTERN:
        said.append("With so few the band is wide: take it as a hint.")
    else:
        said += _interval_words(survival)
    tells = survival.tenth_between is not None and survival.tenth_between[0] >= LEAST_INTERVAL_HOURS
    if survival.fit is not None and survival.events >= FEWEST_FOR_A_PATTERN and tells:
        said.append(_pattern_words(survival.fit.shape))
    said.append(f"A life begins {component.begins_words}.")
    return tuple(said)


def _interval_words(survival: Survival) -> Iterator[str]:
    """What the lives mean for the interval: the fit's one in ten and how sure it is; nothing beyond what was seen."""
    if survival.fit is None or survival.tenth_between is None:
        return
    tenth, (least, most) = survival.fit.hours_at(0.1), survival.tenth_between
    if tenth > survival.longest_hours:
        return
    if least < LEAST_INTERVAL_HOURS:
        yield "When they went bad is known too roughly to name an interval."
        return
    between = f"between {hours_words(least)} and {hours_words(most)}" if most > least else f"{hours_words(least)}"
    whose = "one unit" if survival.units == 1 else f"{survival.units} units"
    yield (
        f"To do it before more than 1 in 10 is bad, the interval would be about {hours_words(tenth)} ride hours by the "
        f"fit; other units of the same kind could as well have said {between}, for these lives are of {whose} only. "
        "To be on the safe side take the lower figure."
    )


def _pattern_words(shape: float) -> str:
    if shape > 1.2:
        return f"They wear out: the longer ridden, the likelier they fail (Weibull shape {shape:.1f})."
    if shape < 0.8:
        return f"They fail early or last (Weibull shape {shape:.1f}): look at how they are fitted, not at the interval."
    return f"They fail at any age (Weibull shape {shape:.1f}): a shorter interval would prevent little."


def _summary_row(component: Component, lives: Lives, survival: Survival) -> FigureRow:
    fit = survival.fit
    return FigureRow(
        component.key,
        (
            component.title,
            _tickets(lives.events),
            len(lives.still_good),
            lives.left_out,
            survival.hours_at(0.1),
            survival.hours_at(0.5),
            _within(fit.hours_at(0.1), survival) if fit else None,
            _within(fit.hours_at(0.5), survival) if fit else None,
        ),
    )


def _within(hours: float, survival: Survival) -> float | None:
    """A fitted figure, where it does not reach beyond the longest life seen."""
    return hours if hours <= survival.longest_hours else None


def _section(component: Component, lives: Lives, survival: Survival) -> Section:
    rows = []
    for step in survival.steps:
        bad = [life for life in lives.events if step.falls_from <= life.hours and life.good_until_hours <= step.hours]
        values = (step.falls_from, step.hours, _tickets(bad), step.share, step.low, step.high)
        rows.append(FigureRow(f"{step.hours:.4f}", values))
    return Section(
        component.key,
        component.title,
        STEPS,
        tuple(rows),
        _plot(component, lives, survival),
        sentences(component, lives, survival),
        nothing="",
        folds=True,
    )


def _plot(component: Component, lives: Lives, survival: Survival) -> SurvivalCurve | None:
    if not survival.says_something:
        return None
    fit: list[tuple[float, float]] = []
    if survival.fit is not None:
        hours = [survival.longest_hours * n / FIT_POINTS for n in range(FIT_POINTS + 1)]
        fit = [(at, survival.fit.still_good(at)) for at in hours]
    return survival_curve(
        key=component.key,
        steps=survival.steps,
        still_good_hours=[life.hours for life in lives.still_good],
        fit=fit,
        until_hours=survival.longest_hours,
        summary=f"{component.title}: {first_words(survival)} The steps are in the table.",
    )


def _tickets(lives: Any) -> Tickets:
    return Tickets.of(life.ticket for life in lives if life.ticket is not None)
