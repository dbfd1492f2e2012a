"""Which tests cannot end otherwise on another database, and need not run again where one database has had them all.

A walk in the browser runs again on the first of its screens. `TESTED_ON_ANOTHER_DATABASE=1`, which `.ci/run` sets for
its second run, leaves them out and says how many; alone, a run on any database runs everything.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

import pytest

# Rules, arithmetic and files: a test here that has records after all asks for them, and runs again.
_WITHOUT_RECORDS = frozenset({"checklists", "diagnosis_pure", "physics", "planted", "published"})
_ASKING = frozenset({"db", "transactional_db", "live_server", "django_db_setup", "client"})


def is_the_same_on_any(item: pytest.Item) -> bool:
    """Whether it is marked `any_database`, or stands in a folder without records and asks for no database."""
    if item.get_closest_marker("any_database"):
        return True
    folder = item.path.relative_to(Path(__file__).parent).parts[0]
    asks = item.get_closest_marker("django_db") or _ASKING.intersection(getattr(item, "fixturenames", ()))
    return folder in _WITHOUT_RECORDS and not asks


def on_further_screens(items: Sequence[pytest.Item]) -> list[pytest.Item]:
    """Walks in the browser that another of these makes on another screen: all but the first of each."""
    walks: dict[tuple[object, ...], list[tuple[int, pytest.Item]]] = {}
    for item in items:
        callspec = getattr(item, "callspec", None)
        if callspec is not None and "screen" in callspec.params and "open_screen" in getattr(item, "fixturenames", ()):
            same = {name: value for name, value in callspec.params.items() if name != "screen"}
            walk = (item.path, item.nodeid.partition("[")[0], repr(same))
            walks.setdefault(walk, []).append((callspec.indices["screen"], item))
    return [item for walk in walks.values() for _, item in sorted(walk, key=lambda one: one[0])[1:]]


def leave_out_what_was_tested(config: pytest.Config, items: list[pytest.Item]) -> None:
    if not os.environ.get("TESTED_ON_ANOTHER_DATABASE"):
        return
    tested = {id(item) for item in (*on_further_screens(items), *filter(is_the_same_on_any, items))}
    again = [item for item in items if id(item) not in tested]
    config.hook.pytest_deselected(items=[item for item in items if id(item) in tested])
    items[:] = again
