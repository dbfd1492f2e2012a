"""Templates are read by people: no line of 160 characters or more, and partials are plain includes."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from django.conf import settings

TEMPLATES = Path(settings.BASE_DIR) / "templates"
ALL = sorted(path for path in TEMPLATES.rglob("*") if path.suffix in {".html", ".svg", ".txt"})
LONGEST = 159


@pytest.mark.parametrize(
    "folder", sorted({path.parent for path in ALL}), ids=lambda path: str(path.relative_to(TEMPLATES))
)
def test_no_line_is_too_long(folder: Path) -> None:
    long = [
        f"{path.relative_to(TEMPLATES)}:{number}, {len(line)} characters"
        for path in ALL
        if path.parent == folder
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1)
        if len(line) > LONGEST
    ]
    assert not long, "Break these between attributes, or where a new line does not show:\n" + "\n".join(long)


def test_there_is_something_to_read() -> None:
    assert len(ALL) > 150


def test_every_include_is_there() -> None:
    names = {str(path.relative_to(TEMPLATES)) for path in ALL}
    missing = [
        f"{path.relative_to(TEMPLATES)} includes {name}"
        for path in ALL
        for name in re.findall(r"{% (?:include|extends) \"([^\"]+)\"", path.read_text(encoding="utf-8"))
        if name not in names and "{#" not in name
    ]
    assert not missing, missing
