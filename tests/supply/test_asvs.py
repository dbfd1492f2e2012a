"""The table of the ASVS names every requirement once, and tests that are there."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

import pytest
from django.conf import settings

BASE = Path(settings.BASE_DIR)
TABLE = BASE / ".readme" / "ASVS.md"
pytestmark = pytest.mark.any_database

# How many requirements of levels 1 and 2 each section of ASVS 5.0.0 has; they are numbered from 1 in each.
SECTIONS = {
    "1.1": 2, "1.2": 9, "1.3": 11, "1.4": 3, "1.5": 2, "2.1": 3, "2.2": 3, "2.3": 4, "2.4": 1, "3.2": 2, "3.3": 4,
    "3.4": 6, "3.5": 5, "3.7": 2, "4.1": 3, "4.2": 1, "4.3": 2, "4.4": 4, "5.1": 1, "5.2": 3, "5.3": 2, "5.4": 3,
    "6.1": 3, "6.2": 12, "6.3": 4, "6.4": 4, "6.5": 5, "6.6": 3, "6.8": 4, "7.1": 3, "7.2": 4, "7.3": 2, "7.4": 5,
    "7.5": 2, "7.6": 2, "8.1": 2, "8.2": 3, "8.3": 1, "8.4": 1, "9.1": 3, "9.2": 4, "10.1": 2, "10.2": 2, "10.3": 4,
    "10.4": 11, "10.5": 5, "10.6": 2, "10.7": 3, "11.1": 2, "11.2": 3, "11.3": 3, "11.4": 4, "11.5": 1, "11.6": 1,
    "12.1": 3, "12.2": 2, "12.3": 4, "13.1": 1, "13.2": 5, "13.3": 2, "13.4": 5, "14.1": 2, "14.2": 4, "14.3": 3,
    "15.1": 3, "15.2": 3, "15.3": 7, "16.1": 1, "16.2": 5, "16.3": 4, "16.4": 3, "16.5": 3, "17.1": 1, "17.2": 4,
    "17.3": 2,
}  # fmt: skip
OF_LEVEL_1, OF_BOTH = 70, 253
STATES = {"met", "not applicable", "open"}


def rows() -> list[tuple[str, str, str, str, str]]:
    found = []
    for line in TABLE.read_text().splitlines():
        if line.startswith("| ") and not line.startswith("| number"):
            number, level, asks, stands, by = (cell.strip() for cell in line.strip("|").split("|"))
            found.append((number, level, asks, stands, by))
    return found


def test_every_requirement_of_both_levels_has_its_line_once() -> None:
    wanted = {f"{section}.{place + 1}" for section, count in SECTIONS.items() for place in range(count)}
    assert len(wanted) == OF_BOTH
    numbers = [number for number, *_ in rows()]
    assert set(numbers) == wanted
    assert [number for number, count in Counter(numbers).items() if count > 1] == []
    assert Counter(level for _, level, *_ in rows()) == {"1": OF_LEVEL_1, "2": OF_BOTH - OF_LEVEL_1}


def test_each_line_says_how_it_stands_and_why() -> None:
    assert {stands for *_, stands, _ in rows()} == STATES
    assert [number for number, _, asks, _, by in rows() if len(asks) < 3 or len(by) < 10] == []


def test_the_readme_counts_them() -> None:
    count = Counter(stands for *_, stands, _ in rows())
    said = (
        f"of {OF_BOTH} requirements {count['met']} are met, each by a test that is named, {count['not applicable']} "
        f"do not apply, and {count['open']} are open"
    )
    assert said in (BASE / "README.md").read_text()


def test_each_test_that_is_named_is_there() -> None:
    missing = []
    for number, _, _, stands, by in rows():
        named = re.findall(r"`(tests/[\w/]+\.py)::(test_\w+)`", by)
        missing += [number] if (stands == "met") != bool(named) else []
        for file, test in named:
            path = BASE / file
            if not path.exists() or not re.search(rf"def {test}\(", path.read_text()):
                missing.append(f"{number}: {file}::{test}")
    assert missing == []
