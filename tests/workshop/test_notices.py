"""Whatever others made and this project ships is named with its licence, and the licence lies beside it."""

from __future__ import annotations

import re
from fnmatch import fnmatch
from pathlib import Path

STATIC = Path(__file__).parents[2] / "static"
NOTICES = (STATIC / "NOTICES.md").read_text()


def test_every_shipped_file_of_others_is_named_with_a_licence_that_is_there() -> None:
    rows = [row for row in NOTICES.splitlines() if row.startswith("|") and "`" in row]
    named = [pattern for row in rows for pattern in re.findall(r"`([^`]+)`", row)]
    shipped = [path.relative_to(STATIC).as_posix() for path in (*STATIC.glob("fonts/*"), *STATIC.glob("vendor/*"))]
    assert [path for path in shipped if not any(fnmatch(path, pattern) for pattern in named)] == []
    assert [pattern for pattern in named if not list(STATIC.glob(pattern))] == []


def test_the_version_is_the_one_that_is_shipped() -> None:
    shipped = re.search(r'version:"([\d.]+)"', (STATIC / "vendor/htmx.min.js").read_text())
    assert shipped is not None
    assert f"htmx {shipped[1]} " in NOTICES
