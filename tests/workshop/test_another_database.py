"""What a second run on another database may leave out: nothing that asks a database for anything that could differ."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import pytest

from tests.another_database import is_the_same_on_any, leave_out_what_was_tested

TESTS = Path(__file__).parents[1]


def a_test(path: str, *, marks: tuple[str, ...] = (), fixtures: tuple[str, ...] = ()) -> pytest.Item:
    return cast(
        pytest.Item,
        SimpleNamespace(
            path=TESTS / path, fixturenames=fixtures, get_closest_marker=lambda name: name if name in marks else None
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
