"""What closed tickets say: the cause that counts, by spring kind, and minutes that tell something of a step."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from diagnosis.learning import ClosedTick, Learned, learn

NINE = dt.datetime(2026, 3, 2, 9, 0, tzinfo=dt.UTC)
SITS_LOW, KNOCKS = 1, 2
PRIORS = {"port-blocked": 3.0, "leg-vacuum": 1.0}


def ticked(visit: int, step_key: str, outcome: str, minutes: float, cause: str = "", **more: object) -> ClosedTick:
    row = ClosedTick(
        visit, visit * 10, NINE, SITS_LOW, "air", step_key, 5.0, outcome, cause, NINE + dt.timedelta(minutes=minutes)
    )
    return replace(row, **more)  # type: ignore[arg-type]


def test_a_ticket_counts_for_the_cause_that_was_found() -> None:
    learned = learn(
        [ticked(1, "look", "ruled_out", 4), ticked(1, "bleed", "found", 9, "leg-vacuum")], complaint=SITS_LOW
    )
    assert learned.tickets_by_kind == {"air": {"leg-vacuum": 1}}
    assert (learned.closed, learned.without_cause) == (1, 0)
    figure = learned.beliefs(PRIORS, "air").figures[1]
    assert (figure.cause, figure.tickets) == ("leg-vacuum", 1)
    assert figure.share == pytest.approx(2 / 5)


def test_spring_kinds_are_counted_apart_and_pooled_at_a_discount() -> None:
    rows = [
        ticked(n, "bleed", "found", 9, "leg-vacuum", spring_kind=kind) for n, kind in enumerate(["air", "coil", ""])
    ]
    learned = learn(rows, complaint=SITS_LOW)
    assert learned.tickets_by_kind == {
        "air": {"leg-vacuum": 1}, "coil": {"leg-vacuum": 1}, "unknown": {"leg-vacuum": 1},
    }  # fmt: skip
    beliefs = learned.beliefs(PRIORS, "air")
    assert (beliefs.tickets, beliefs.other_kind_tickets, beliefs.other_kind_weight) == (1, 2, 0.5)
    assert beliefs.few


def test_what_was_taken_back_does_not_count() -> None:
    rows = [ticked(1, "bleed", "found", 9, "leg-vacuum"), ticked(1, "bleed", "taken_back", 10)]
    learned = learn(rows, complaint=SITS_LOW)
    assert learned.tickets_by_kind == {}
    assert learned.without_cause == 1


def test_all_causes_of_a_ticket_count() -> None:
    rows = [ticked(1, "bleed", "found", 9, "leg-vacuum"), ticked(1, "port", "found", 19, "port-blocked")]
    assert learn(rows, complaint=SITS_LOW).tickets_by_kind == {"air": {"port-blocked": 1, "leg-vacuum": 1}}
    rows.append(ticked(1, "port-again", "found", 25, "port-blocked"))
    assert learn(rows, complaint=SITS_LOW).tickets_by_kind == {"air": {"port-blocked": 1, "leg-vacuum": 1}}


def test_a_come_back_takes_back_what_was_cured() -> None:
    rows = [
        ticked(1, "bleed", "found", 9, "leg-vacuum"),
        ticked(2, "bleed", "ruled_out", 9),
        ticked(2, "port", "found", 19, "port-blocked"),
    ]
    learned = learn(rows, complaint=SITS_LOW, came_back={1})
    assert learned.tickets_by_kind == {"air": {"port-blocked": 1}}
    assert (learned.closed, learned.without_cause, learned.came_back) == (2, 0, 1)
    assert learned.tries == {("bleed", "port-blocked"): (0, 1), ("port", "port-blocked"): (1, 1)}
    assert learned.minutes["bleed"] == (9.0, 9.0)  # the time it took is as true as before


def test_checks_that_ruled_it_out_missed_what_was_found_later() -> None:
    rows = [
        ticked(1, "bleed", "ruled_out", 5),
        ticked(1, "port", "cant_tell", 9),
        ticked(1, "again", "found", 19, "leg-vacuum"),
        ticked(2, "bleed", "found", 5, "leg-vacuum"),
        ticked(3, "bleed", "ruled_out", 5),
    ]
    learned = learn(rows, complaint=SITS_LOW)
    assert learned.tries == {("bleed", "leg-vacuum"): (1, 2), ("again", "leg-vacuum"): (1, 1)}
    assert learned.unexplained == {"air": {frozenset({"bleed"}): 1}}


def test_a_finding_set_aside_by_a_failed_proof_is_no_hit() -> None:
    rows = [
        ticked(1, "bleed", "found", 5, "leg-vacuum"),
        ticked(1, "prove-rest", "not_proved", 9),
        ticked(1, "port", "found", 19, "port-blocked"),
    ]
    assert learn(rows, complaint=SITS_LOW).tries == {("port", "port-blocked"): (1, 1)}


def test_a_proof_that_failed_sets_the_finding_aside() -> None:
    rows = [ticked(1, "bleed", "found", 9, "leg-vacuum"), ticked(1, "prove-rest", "not_proved", 12)]
    assert learn(rows, complaint=SITS_LOW).without_cause == 1
    rows.append(ticked(1, "port", "found", 30, "port-blocked"))
    assert learn(rows, complaint=SITS_LOW).tickets_by_kind == {"air": {"port-blocked": 1}}


def test_a_finding_without_a_named_cause_counts_for_none() -> None:
    assert learn([ticked(1, "bleed", "found", 9)], complaint=SITS_LOW).without_cause == 1


def test_other_complaints_of_the_ticket_are_only_on_its_clock() -> None:
    other = {"complaint": KNOCKS, "run": 11, "run_started_at": NINE + dt.timedelta(minutes=5)}
    rows = [
        ticked(1, "look", "ruled_out", 4),
        ticked(1, "headset", "found", 8, "headset-loose", **other),
        ticked(1, "bleed", "found", 14, "leg-vacuum"),
    ]
    learned = learn(rows, complaint=SITS_LOW)
    assert learned.tickets_by_kind == {"air": {"leg-vacuum": 1}}
    assert learned.minutes == {"look": (4.0,), "bleed": (6.0,)}


def test_a_pause_and_a_step_not_done_teach_no_minutes() -> None:
    rows = [
        ticked(1, "look", "ruled_out", 94),
        ticked(1, "wipe", "left_out", 96),
        ticked(1, "port", "cant_tell", 99),
        ticked(1, "bleed", "found", 105, "leg-vacuum"),
    ]
    assert learn(rows, complaint=SITS_LOW).minutes == {"bleed": (6.0,)}


def test_corrected_minutes_teach_in_place_of_the_clock() -> None:
    learned = learn([ticked(1, "look", "ruled_out", 94)], complaint=SITS_LOW, corrected_minutes={(10, "look"): 7.0})
    assert learned.minutes == {"look": (7.0,)}
    assert learned.step_minutes("look", 4.0).median == 7.0


def test_causes_that_are_no_longer_in_the_checklist_are_left_out() -> None:
    learned = learn([ticked(1, "bleed", "found", 9, "retired-cause")], complaint=SITS_LOW)
    assert learned.beliefs(PRIORS, "air").tickets == 0


def test_with_no_tickets_the_stated_weights_and_minutes_stand() -> None:
    assert Learned().beliefs(PRIORS, None).beliefs() == {"port-blocked": 0.75, "leg-vacuum": 0.25}
    assert Learned().step_minutes("look", 4.0).minutes == 4.0
