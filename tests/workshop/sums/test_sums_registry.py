"""What every quick sum of the registry must have: its arithmetic held against something outside, and its plain test."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.conf import settings

from tests.workshop.sums import test_sums_screens
from workshop.sums.subjects import SUBJECTS, Subject

BASE = Path(settings.BASE_DIR)
PUBLISHED = BASE / "tests" / "published"
# Where the code of a sum may lie; what it imports from there is followed to the arithmetic.
FOLLOWED = ("workshop.sums.", "diagnosis.")
# Holds no arithmetic.
NO_ARITHMETIC = {"specs.physics.errors"}
# Not a sum's own arithmetic, but how its numbers are read and written.
HOW_NUMBERS_ARE_WRITTEN = {"specs.units"}

each = pytest.mark.parametrize("subject", SUBJECTS.values(), ids=lambda subject: subject.key)


def imported(module: str) -> Iterator[str]:
    """Modules that a module's code imports; a package's stands for all it holds."""
    path = BASE / (module.replace(".", "/") + ".py")
    if not path.exists():
        path = BASE / module.replace(".", "/") / "__init__.py"
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.ImportFrom) and node.module:
            yield node.module


def arithmetic_of(subject: Subject) -> set[str]:
    """The modules of arithmetic that the sum's form reaches."""
    seen: set[str] = set()
    to_read = [subject.form.__module__]
    while to_read:
        module = to_read.pop()
        if module in seen:
            continue
        seen.add(module)
        to_read += [name for name in imported(module) if name.startswith(FOLLOWED)]
    reached = {name for module in seen for name in imported(module)}
    physics = {name for name in reached if name.startswith("specs.physics.")} - NO_ARITHMETIC
    return physics or reached & HOW_NUMBERS_ARE_WRITTEN


@each
def test_its_arithmetic_is_held_against_something_outside(subject: Subject) -> None:
    arithmetic = arithmetic_of(subject)
    assert arithmetic, "no arithmetic was found: the search is wrong"
    assert subject.published
    checked: set[str] = set()
    for name in subject.published:
        assert (PUBLISHED / f"{name}.py").exists(), f"tests/published/{name}.py is not there"
        held = arithmetic & set(imported(f"tests.published.{name}"))
        assert held, f"{name} looks at none of {sorted(arithmetic)}"
        checked |= held
    assert checked == arithmetic, f"{sorted(arithmetic - checked)}: no published check is named for it"


@each
def test_it_is_asked_plainly_on_its_page(subject: Subject) -> None:
    assert callable(getattr(test_sums_screens, f"test_{subject.key.replace('-', '_')}", None))
