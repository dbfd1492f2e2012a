"""Which tests cannot end otherwise on another database, and need not run again where one database has had them all.

`TESTED_ON_ANOTHER_DATABASE=1`, which `.ci/run` sets for its second run, leaves them out and says how many; alone, a run
on any database runs everything.
"""

from __future__ import annotations

import os
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


def leave_out_what_was_tested(config: pytest.Config, items: list[pytest.Item]) -> None:
    if not os.environ.get("TESTED_ON_ANOTHER_DATABASE"):
        return
    again = [item for item in items if not is_the_same_on_any(item)]
    config.hook.pytest_deselected(items=[item for item in items if is_the_same_on_any(item)])
    items[:] = again
