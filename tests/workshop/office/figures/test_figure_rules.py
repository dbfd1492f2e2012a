"""The figures' rules on plain rows: turnaround, promises, come-backs, causes, minutes, load, money. No database."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest

from workshop.office.figures.bench_minutes import StepMinutesFigure, bench_minutes
from workshop.office.figures.causes import NO_COMPLAINT, causes_over_time
from workshop.office.figures.come_backs import NO_CAUSE, come_backs
from workshop.office.figures.load import QueuedWork, load_figure
from workshop.office.figures.money import Charge, money_figure, without_tax
from workshop.office.figures.period import Period, last_months
from workshop.office.figures.promises import promises
from workshop.office.figures.sheet import Figure, Tickets
from workshop.office.figures.turnaround import turnaround
from workshop.office.figures.visits import TicketTimes
from workshop.promise.days import Bench

DAY = dt.timedelta(days=1)
JUNE = Period(dt.date(2026, 6, 1), dt.date(2026, 6, 30))
NOW = dt.datetime(2026, 12, 31, 12, tzinfo=dt.UTC)


def at(day: int, month: int = 6, hour: int = 9) -> dt.datetime:
    return dt.datetime(2026, month, day, hour, tzinfo=dt.UTC)


def visit(ticket: int, booked: dt.datetime, days: float | None = None, **more: Any) -> TicketTimes:
    """Ready after so many days and handed back a day later, promised for five days after booking."""
    if days is not None:
        ready = booked + days * DAY
        more = {"ready_at": ready, "back_at": ready + DAY} | more
    words: dict[str, Any] = {"unit": ticket, "booked_at": booked, "promised_on": booked.date() + 5 * DAY}
    return TicketTimes(ticket, **(words | more))


def values(figure: Figure, section: str, row: str) -> list[object]:
    found = figure.section(section)
    assert found is not None
    (chosen,) = [one for one in found.rows if one.key == row]
    return [list(value.pks) if isinstance(value, Tickets) else value for value in chosen.values]


# Turnaround


def test_days_to_ready_stand_in_the_month_in_which_it_became_ready() -> None:
    visits = [visit(1, at(30, 5), 4), visit(2, at(1), 2), visit(3, at(2), 6), visit(4, at(29), 5)]
    figure = turnaround(visits, JUNE, lambda state, waiting_for: state)
    assert values(figure, "ready", "2026-06")[1:] == [[1, 2, 3], 4.0, 6.0, 6.0]
    assert values(figure, "back", "all")[1:] == [[1, 2, 3], 5.0, 7.0, 7.0]
    assert "within 4.0 days" in figure.headline


def test_a_ticket_that_never_was_ready_does_not_count() -> None:
    figure = turnaround([visit(1, at(1), back_at=at(3)), visit(2, at(1))], JUNE, lambda state, waiting_for: state)
    assert values(figure, "ready", "all")[1:] == [[], None, None, None]
    assert figure.headline == "No ticket became ready in these days."


def test_where_the_days_went_is_told_by_state() -> None:
    visits = [
        visit(1, at(1), 3, stays_days={("booked_in", ""): 1.0, ("waiting", "parts"): 2.0, ("ready", ""): 1.0}),
        visit(2, at(1), 1, stays_days={("booked_in", ""): 1.0, ("ready", ""): 1.0}),
    ]
    figure = turnaround(visits, JUNE, lambda state, waiting_for: f"{state} for {waiting_for}")
    assert values(figure, "stays", "waiting-parts") == ["waiting for parts", [1], 1.0, pytest.approx(1 / 3)]


# Promises


def test_ready_on_the_promised_day_is_kept_and_a_day_later_is_late() -> None:
    figure = promises([visit(1, at(1), 5), visit(2, at(1), 6), visit(3, at(2), 9)], JUNE, NOW.date())
    assert values(figure, "promises", "2026-06") == ["Jun 2026", [1], [2, 3], pytest.approx(1 / 3), 2.5, []]
    assert figure.headline == "1 of 3 promises were kept, 33 %."


def test_still_in_work_after_its_day_is_late_and_before_it_is_not_decided() -> None:
    today = at(6).date()
    visits = [visit(1, at(1)), visit(2, at(1), promised_on=today - DAY), visit(3, at(1), called_off=True)]
    assert values(promises(visits, JUNE, today), "promises", "all")[1:5] == [[], [2], 0.0, 1.0]


def test_a_promise_that_was_moved_can_be_seen() -> None:
    figure = promises([visit(1, at(1), 5, promise_moved=True)], JUNE, NOW.date())
    assert values(figure, "promises", "all")[5] == [1]


# Come-backs


def back_again(first_days: int, **more: Any) -> list[TicketTimes]:
    """A job handed back on 4 June, and the same unit booked in so many days later."""
    first = visit(1, at(1), 2, unit=7)
    assert first.back_at is not None
    return [first, visit(2, first.back_at + first_days * DAY, unit=7, **more)]


@pytest.mark.parametrize(("days", "came_back"), [(1, [1]), (90, [1]), (91, [])])
def test_back_within_90_days_is_a_come_back(days: int, came_back: list[int]) -> None:
    figure = come_backs(back_again(days), {}, JUNE, NOW)
    assert values(figure, "months", "2026-06")[1:3] == [[1], came_back]


def test_a_called_off_ticket_is_no_come_back() -> None:
    assert values(come_backs(back_again(5, called_off=True), {}, JUNE, NOW), "months", "all")[2] == []


def test_another_unit_is_no_come_back() -> None:
    assert values(come_backs([visit(1, at(1), 2), visit(2, at(9), 2)], {}, JUNE, NOW), "months", "all")[2] == []


def test_it_stands_under_what_was_found_the_first_time_and_the_same_again_is_told() -> None:
    causes = {1: frozenset({"Wiper worn", "Bushing worn"}), 2: frozenset({"Wiper worn"})}
    figure = come_backs(back_again(5), causes, JUNE, NOW)
    assert values(figure, "causes", "Wiper worn") == ["Wiper worn", [1], [1], None, [2], [1]]
    assert values(figure, "causes", "Bushing worn")[5] == []
    nameless = come_backs(back_again(5), {}, JUNE, NOW)
    assert values(nameless, "causes", NO_CAUSE)[1] == [1]


def test_jobs_whose_90_days_are_not_over_are_apart_and_not_in_the_share() -> None:
    figure = come_backs(back_again(5), {}, JUNE, at(20))
    assert values(figure, "months", "all")[1:] == [[], [], None, [], [1], [1]]
    assert figure.headline == "No job of these days is 90 days old yet."


def test_a_share_of_few_is_left_out() -> None:
    few = [visit(n, at(n), 1) for n in range(1, 5)]
    assert values(come_backs(few, {}, JUNE, NOW), "months", "all")[3] is None
    enough = [visit(n, at(n), 1) for n in range(1, 6)]
    assert values(come_backs(enough, {}, JUNE, NOW), "months", "all")[3] == 0.0


# Complaints and causes


def test_complaints_and_causes_by_month_of_booking() -> None:
    period = Period(dt.date(2026, 5, 1), dt.date(2026, 6, 30))
    visits = [visit(1, at(3, 5)), visit(2, at(3)), visit(3, at(4)), visit(4, at(5), called_off=True)]
    figure = causes_over_time(
        visits, {1: ["Sits low"], 2: ["Sits low", "Loses air"]}, {2: frozenset({"Port blocked"})}, period
    )
    assert values(figure, "complaints", "Sits low") == ["Sits low", [1, 2], [1], [2]]
    assert values(figure, "complaints", NO_COMPLAINT) == [NO_COMPLAINT, [3], [], [3]]
    assert values(figure, "causes", "Port blocked") == ["Port blocked", [2], [], [2]]
    assert figure.headline.startswith("3 tickets were booked in; on 1 of them a cause was named.")


# Minutes


def test_steps_that_cost_most_beyond_the_plan_come_first() -> None:
    slow = StepMinutesFigure("Sits low", "Lowers off", 10.0, [20.0, 25.0, 30.0], [1, 2, 3])
    quick = StepMinutesFigure("Sits low", "Look at the seals", 5.0, [4.0], [1])
    figure = bench_minutes([quick, slow])
    section = figure.section("steps")
    assert section is not None
    assert [row.values[0] for row in section.rows] == ["Lowers off", "Look at the seals"]
    assert values(figure, "steps", "Lowers off, 10")[2:] == [[1, 2, 3], 10.0, 25.0, 30.0, 0.75]
    assert "44 min more than the 35 min planned" in figure.headline


# Load


def test_load_is_work_promised_so_far_against_hours_so_far() -> None:
    wednesday = dt.date(2026, 6, 3)
    bench = Bench(1, 360.0)
    work = [
        QueuedWork(1, dt.date(2026, 6, 2), 360.0),
        QueuedWork(2, dt.date(2026, 6, 5), 720.0),
        QueuedWork(3, dt.date(2026, 6, 9), 60.0),
    ]
    figure = load_figure(work, bench, wednesday)
    assert values(figure, "load", "overdue")[1:3] == [[1], 6.0]
    # Thursday and Friday are left of this week: 12 h for 18 h of work.
    assert values(figure, "load", "2026-06-04")[1:] == [[2], 12.0, 12.0, 18.0, 12.0, pytest.approx(1.5)]
    assert values(figure, "load", "2026-06-08")[4:] == [19.0, 42.0, pytest.approx(19 / 42)]
    assert "more is promised than the bench has hours: 150 %" in figure.headline


def test_closed_days_are_no_hours_and_far_promises_stand_apart() -> None:
    bench = Bench(1, 360.0, closed_days=frozenset({dt.date(2026, 6, 4)}))
    figure = load_figure([QueuedWork(1, dt.date(2027, 1, 1), 60.0)], bench, dt.date(2026, 6, 3))
    assert values(figure, "load", "2026-06-04")[3] == 6.0
    assert values(figure, "load", "later")[1:3] == [[1], 1.0]


# Money


def test_labour_parts_and_tax_add_up_month_by_month() -> None:
    charges = [
        Charge(1, dt.date(2026, 6, 2), "EUR", Decimal(65), Decimal("88.50"), Decimal("17.70"), Decimal("106.20")),
        Charge(2, dt.date(2026, 6, 30), "EUR", Decimal(85), Decimal(85), Decimal(17), Decimal(102)),
        Charge(3, dt.date(2026, 7, 1), "EUR", Decimal(1), Decimal(1), Decimal(0), Decimal(1)),
    ]
    figure = money_figure(charges, JUNE, "EUR")
    sums = values(figure, "money-eur", "2026-06")
    assert sums == ["Jun 2026", [1, 2], Decimal(150), Decimal("23.50"), Decimal("173.50"), Decimal("34.70"),
                    Decimal("208.20")]  # fmt: skip
    assert figure.headline == "173.50 EUR before tax on 2 tickets."


def test_currencies_are_never_added_to_each_other() -> None:
    charges = [Charge(1, dt.date(2026, 6, 2), "CHF", Decimal(5), Decimal(5), Decimal(0), Decimal(5))]
    figure = money_figure(charges, JUNE, "EUR")
    assert [section.key for section in figure.sections] == ["money-eur", "money-chf"]
    assert values(figure, "money-eur", "all")[1] == []


def test_tax_is_taken_out_of_a_price_that_includes_it() -> None:
    assert without_tax(Decimal(120), Decimal(20), includes_tax=True) == Decimal("100.00")
    assert without_tax(Decimal(120), Decimal(20), includes_tax=False) == Decimal(120)


# Periods


def test_twelve_months_end_with_this_one() -> None:
    period = last_months(dt.date(2026, 3, 5))
    assert (period.first, len(period.steps)) == (dt.date(2025, 4, 1), 12)


def test_a_long_period_is_told_by_quarters_then_years() -> None:
    quarters = Period(dt.date(2023, 2, 10), dt.date(2026, 3, 5)).steps
    assert (quarters[0].words, quarters[0].first, quarters[-1].words) == ("Q1 2023", dt.date(2023, 2, 10), "Q1 2026")
    years = Period(dt.date(2010, 1, 1), dt.date(2026, 3, 5)).steps
    assert [step.words for step in years[:2]] == ["2010", "2011"]


def test_every_day_of_a_period_is_in_one_step() -> None:
    period = Period(dt.date(2025, 11, 7), dt.date(2026, 3, 5))
    day = period.first
    for step in period.steps:
        assert step.first == day
        while day < step.end:
            assert period.step_key(day) == step.key
            day += DAY
    assert day == period.last + DAY


def test_a_period_that_ends_before_it_begins_is_refused() -> None:
    with pytest.raises(ValueError, match="before"):
        Period(dt.date(2026, 6, 2), dt.date(2026, 6, 1))
