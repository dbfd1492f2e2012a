"""What a second run on another database may leave out: nothing that asks a database for anything that could differ."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import pytest

from tests.another_database import is_the_same_on_any, leave_out_what_was_tested, on_further_screens

TESTS = Path(__file__).parents[1]


def a_test(
    path: str, *, marks: tuple[str, ...] = (), fixtures: tuple[str, ...] = (), at: int = 0, **params: str
) -> pytest.Item:
    """A test, the one at that place of those that its parameters make of it."""
    made = {"callspec": SimpleNamespace(params=params, indices=dict.fromkeys(params, at))} if params else {}
    return cast(
        pytest.Item,
        SimpleNamespace(
            path=TESTS / path,
            nodeid=f"tests/{path}::test_it{list(params.values())}",
            fixturenames=fixtures,
            get_closest_marker=lambda name: name if name in marks else None,
            **made,
        ),
    )


ARITHMETIC = a_test("physics/test_oil.py", fixtures=("tmp_path",))
MARKED = a_test("browser/test_sums.py", marks=("any_database",), fixtures=("transactional_db",))
AGAIN = (
    a_test("checklists/test_exploring.py", marks=("django_db",)),
    a_test("published/test_oil.py", fixtures=("db",)),
    a_test("browser/test_bench.py", fixtures=("transactional_db",)),
    a_test("faults/test_machine_faults.py"),  # asks a server that it starts
    a_test("workshop/test_starting.py"),
)


def test_only_what_asks_no_database_or_is_marked_is_the_same_on_any() -> None:
    assert is_the_same_on_any(ARITHMETIC)
    assert is_the_same_on_any(MARKED)
    assert not [test.path.name for test in AGAIN if is_the_same_on_any(test)]


@pytest.mark.parametrize("was_tested", [False, True])
def test_nothing_is_left_out_but_where_another_database_had_it(
    monkeypatch: pytest.MonkeyPatch, was_tested: bool
) -> None:
    monkeypatch.delenv("TESTED_ON_ANOTHER_DATABASE", raising=False)
    if was_tested:
        monkeypatch.setenv("TESTED_ON_ANOTHER_DATABASE", "1")
    said: list[pytest.Item] = []
    config: Any = SimpleNamespace(hook=SimpleNamespace(pytest_deselected=lambda items: said.extend(items)))
    items = [ARITHMETIC, *AGAIN, MARKED]
    leave_out_what_was_tested(config, items)
    assert said == ([ARITHMETIC, MARKED] if was_tested else [])
    assert items == (list(AGAIN) if was_tested else [ARITHMETIC, *AGAIN, MARKED])


def test_of_a_walk_on_several_screens_the_first_stands_for_all() -> None:
    look_up = "browser/test_look_ups.py"
    shown = ("open_screen", "transactional_db")
    walks = [
        a_test(look_up, fixtures=shown, at=place, screen=screen, address=address)
        for place, (screen, address) in enumerate(
            (screen, address) for screen in ("tablet", "phone") for address in ("/counter/", "/stores/")
        )
    ]
    others = [
        a_test("browser/test_counter.py", fixtures=shown, at=1, screen="phone"),
        a_test("workshop/test_pages.py", fixtures=("db", "screen"), at=0, screen="tablet"),  # no browser's
        a_test("workshop/test_pages.py", fixtures=("db", "screen"), at=1, screen="phone"),
    ]
    assert on_further_screens([*reversed(walks), *others]) == [walks[3], walks[2]]
