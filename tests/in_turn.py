"""Dear tests take turns: each day another part of them, so that everybody's run answers in minutes.

`dear_tests.txt` says what a function costs, all its cases together, where that is more than `LISTED_S`. It runs every
second, fourth or twelfth day, so that a day has about `A_DAY_S` of it, of the dearest more; of a function of many cases
a part runs each day; `always` runs all the same. That is so with `--in-turn`, which `manage.py test` adds where it is
asked for everything or for what is quick. A test that is named runs whole, and `manage.py test --all` runs whatever
there is. A second database has the day after, so that two runs see twice as much.
"""

from __future__ import annotations

import os
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.breadth import day

TABLE = Path(__file__).with_name("dear_tests.txt")
LISTED_S, A_DAY_S = 1.0, 0.4
CYCLE = 12  # days after which everything has had its turn
ALWAYS = "always"


@dataclass(frozen=True)
class Turn:
    """On `first`, first + every, ... of the days 0 to 11 of a cycle; of many cases each day every n-th."""

    every: int
    first: int


def read_table(text: str) -> dict[str, float]:
    """Lines of `seconds function`: what each costs; no seconds where it runs every day all the same."""
    costs = {}
    for line in text.splitlines():
        if line and not line.startswith("#"):
            seconds, name = line.split()
            costs[name] = 0.0 if seconds == ALWAYS else float(seconds)
    return costs


def turns_of(costs: Mapping[str, float]) -> dict[str, Turn]:
    """When each has its turn: the dearest first, each where the fewest seconds are so far."""
    loads = [0.0] * CYCLE
    found: dict[str, Turn] = {}
    for name, seconds in sorted(costs.items(), key=lambda one: (-one[1], one[0])):
        every = next((n for n in (1, 2, 4) if seconds <= n * A_DAY_S), CYCLE)
        first = min(range(every), key=lambda start: sum(loads[start::every]))
        found[name] = Turn(every, first)
        for at in range(first, CYCLE, every):
            loads[at] += seconds
    return found


def without_a_turn(named: Sequence[tuple[str, bool]], turns: Mapping[str, Turn], today: int) -> list[int]:
    """Which of these, by their place, do not run today: each the function's name and whether it has several cases."""
    cases: dict[str, int] = {}
    left_out = []
    for place, (name, has_cases) in enumerate(named):
        turn = turns.get(name)
        number = cases[name] = cases.get(name, -1) + 1
        if turn is not None and (today - turn.first - (number if has_cases else 0)) % turn.every:
            left_out.append(place)
    return left_out


def todays() -> int:
    return day() + bool(os.environ.get("TESTED_ON_ANOTHER_DATABASE"))


def said_of_turns() -> str:
    turns = turns_of(read_table(TABLE.read_text()))
    waiting = sum(turn.every > 1 for turn in turns.values())
    return f"in turn: {waiting} dear tests run in part, or not today; DAY_OF_TESTS={day()}; all: manage.py test --all"


def leave_out_until_its_turn(config: pytest.Config, items: list[pytest.Item]) -> None:
    if not config.getoption("--in-turn"):
        return
    ids = sorted(item.nodeid for item in items)  # whatever order they are run in, each case has the same number
    named = [(one.partition("[")[0], "[" in one) for one in ids]
    left_out = {ids[place] for place in without_a_turn(named, turns_of(read_table(TABLE.read_text())), todays())}
    config.hook.pytest_deselected(items=[item for item in items if item.nodeid in left_out])
    items[:] = [item for item in items if item.nodeid not in left_out]


class Costs:
    """A plugin of the process that prints: writes the table anew, what is `always` as it was."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.seconds: defaultdict[str, float] = defaultdict(float)

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        self.seconds[report.nodeid.partition("[")[0]] += report.duration

    def pytest_sessionfinish(self) -> None:
        self.path.write_text(written_anew(TABLE.read_text(), self.seconds))


def written_anew(table: str, seconds: Mapping[str, float]) -> str:
    said = [line for line in table.splitlines() if line.startswith("#")]
    always = {name for name, cost in read_table(table).items() if not cost}
    costs = {name: f"{cost:.0f}" for name, cost in seconds.items() if cost > LISTED_S} | dict.fromkeys(always, ALWAYS)
    return "\n".join([*said, "", *(f"{cost} {name}" for name, cost in sorted(costs.items())), ""])
