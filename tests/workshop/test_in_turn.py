"""Dear tests take turns, each of them has one, and no day is much dearer than another."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.in_turn import (
    A_DAY_S,
    ALWAYS,
    CYCLE,
    TABLE,
    leave_out_until_its_turn,
    read_table,
    turns_of,
    without_a_turn,
    written_anew,
)

ROOT = Path(__file__).parents[2]
costs = st.dictionaries(st.text("abc", min_size=1, max_size=6), st.floats(0, 300), max_size=30)


@given(costs, st.integers(0, 800_000))
def test_whatever_costs_what_each_has_its_turn_within_twelve_days(seconds: dict[str, float], today: int) -> None:
    turns = turns_of(seconds)
    named = [(name, False) for name in seconds]
    ran = [set(range(len(named))) - set(without_a_turn(named, turns, today + day)) for day in range(CYCLE)]
    assert set().union(*ran) == set(range(len(named)))
    for place, (name, cost) in enumerate(seconds.items()):
        days = sum(place in of_day for of_day in ran)
        assert days == next((CYCLE // n for n in (1, 2, 4) if cost <= n * A_DAY_S), 1), name


@given(st.integers(1, 40), st.floats(0, 300), st.integers(0, 800_000))
def test_of_many_cases_each_day_has_its_part_and_together_they_are_all(cases: int, cost: float, today: int) -> None:
    turns = turns_of({"many": cost})
    named = [("many", True)] * cases
    ran = [set(range(cases)) - set(without_a_turn(named, turns, today + day)) for day in range(turns["many"].every)]
    assert sorted(case for of_day in ran for case in of_day) == list(range(cases))
    assert max(map(len, ran)) - min(map(len, ran)) <= 1


@given(costs)
def test_no_day_is_dearer_than_another_by_more_than_the_dearest_of_each_turn(seconds: dict[str, float]) -> None:
    turns = turns_of(seconds)
    days = [
        sum(cost for name, cost in seconds.items() if (day - turns[name].first) % turns[name].every == 0)
        for day in range(CYCLE)
    ]
    dearest: dict[int, float] = {}
    for name, cost in seconds.items():
        dearest[turns[name].every] = max(cost, dearest.get(turns[name].every, 0))
    assert max(days) - min(days) <= sum(dearest.values()) + 1e-6


def test_what_is_in_no_table_runs_every_day() -> None:
    assert [without_a_turn([("cheap", True), ("cheap", True)], {}, day) for day in range(CYCLE)] == [[]] * CYCLE


def test_the_table_names_tests_that_are_there() -> None:
    table = read_table(TABLE.read_text())
    assert len(table) > 50
    for name in table:
        path, *classes, function = name.split("::")
        text = (ROOT / path).read_text()
        assert re.search(rf"def {function}\(", text), name
        assert all(f"class {one}" in text for one in classes), name


def test_written_anew_it_keeps_what_always_runs_and_drops_what_got_cheap() -> None:
    table = f"# Said\n\n{ALWAYS} tests/a.py::test_a\n40 tests/b.py::test_b\n"
    anew = written_anew(table, {"tests/a.py::test_a": 80.0, "tests/b.py::test_b": 1.0, "tests/c.py::test_c": 7.4})
    assert anew == f"# Said\n\n{ALWAYS} tests/a.py::test_a\n7 tests/c.py::test_c\n"
    assert written_anew(anew, {"tests/a.py::test_a": 80.0, "tests/c.py::test_c": 7.4}) == anew


class _Config:
    class hook:  # noqa: N801  as pytest names it
        deselected: list[object] = []

        @classmethod
        def pytest_deselected(cls, items: list[object]) -> None:
            cls.deselected = items

    def __init__(self, in_turn: bool) -> None:
        self.in_turn = in_turn

    def getoption(self, name: str) -> bool:
        assert name == "--in-turn"
        return self.in_turn


class _Item:
    def __init__(self, nodeid: str) -> None:
        self.nodeid = nodeid


def test_only_where_it_is_asked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    dear = next(name for name, turn in turns_of(read_table(TABLE.read_text())).items() if turn.every == CYCLE)
    every: list[list[str]] = []
    for day in range(CYCLE):
        monkeypatch.setenv("DAY_OF_TESTS", str(day))
        items = [_Item(dear), _Item("tests/a.py::test_cheap")]
        leave_out_until_its_turn(_Config(in_turn=False), items)  # type: ignore[arg-type]
        assert len(items) == 2
        leave_out_until_its_turn(_Config(in_turn=True), items)  # type: ignore[arg-type]
        every.append([item.nodeid for item in items])
    assert sorted(map(len, every)) == [1] * (CYCLE - 1) + [2]


def test_in_whatever_order_they_are_run_the_same_cases_have_their_turn(monkeypatch: pytest.MonkeyPatch) -> None:
    dear = next(name for name, turn in turns_of(read_table(TABLE.read_text())).items() if turn.every == CYCLE)
    cases = [f"{dear}[{number:02}]" for number in range(CYCLE)]
    seen: set[str] = set()
    for day in range(CYCLE):
        monkeypatch.setenv("DAY_OF_TESTS", str(day))
        chosen = set()
        for shuffled in (cases, cases[::-1], [*cases[5:], *cases[:5]]):
            items = [_Item(case) for case in shuffled]
            leave_out_until_its_turn(_Config(in_turn=True), items)  # type: ignore[arg-type]
            chosen.add(tuple(item.nodeid for item in items))
        (of_today,) = chosen
        seen.update(of_today)
    assert seen == set(cases)


def test_a_second_database_has_the_day_after(monkeypatch: pytest.MonkeyPatch) -> None:
    from tests.in_turn import todays

    monkeypatch.setenv("DAY_OF_TESTS", "41")
    monkeypatch.delenv("TESTED_ON_ANOTHER_DATABASE", raising=False)
    assert todays() == 41
    monkeypatch.setenv("TESTED_ON_ANOTHER_DATABASE", "1")
    assert todays() == 42
