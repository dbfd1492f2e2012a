"""No rule knows a step by its key: what it does, a checklist says. Only migrations know what older ones were called."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.conf import settings

from tests.shipped import shipped_folder

CODE = [
    path
    for room in ("specs", "diagnosis", "workshop")
    for path in sorted((Path(settings.BASE_DIR) / room).rglob("*.py"))
    if "migrations" not in path.parts
]


def texts_in(source: str) -> Iterator[str]:
    """Every text in a program, comments apart."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            yield node.value


def keys_named(source: str) -> set[str]:
    """The shipped steps' keys that stand in the texts of a program as words of their own."""
    steps = {step.key for plan in shipped_folder().checklists for step in plan.steps}
    steps |= {step.key for step in shipped_folder().shared_steps}
    return {word for text in texts_in(source) for word in re.findall(r"[a-z0-9]+(?:-[a-z0-9]+)+", text)} & steps


def test_no_rule_knows_a_step_by_its_key() -> None:
    named = {
        str(path.relative_to(settings.BASE_DIR)): found
        for path in CODE
        if (found := keys_named(path.read_text(encoding="utf-8")))
    }
    assert named == {}


@pytest.mark.parametrize("source", ['CLOSED = {"lowers-off": 1}', 'f"{a} lowers-off"', '"after lowers-off, and more"'])
def test_a_key_that_somebody_writes_down_is_seen(source: str) -> None:
    assert keys_named(source) == {"lowers-off"}
    assert keys_named('"all-air-outlet", "x-lowers-off", "wheel out"') == set()
