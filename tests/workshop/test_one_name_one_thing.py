"""No public function or class has the name of another one: who reads a name in a call knows where to look.

Views are named by their module and their address (`stores:add`), and modules that stand for each other have the same
functions on purpose; both are left out.
"""

from __future__ import annotations

import ast
from collections import defaultdict
from pathlib import Path

ROOT = Path(__file__).parents[2]
# What is made in a database after its tables: each of these has the same few functions.
_STAND_FOR_EACH_OTHER = {
    "workshop/kept/installing.py",
    "workshop/kept/triggers.py",
    "workshop/searching/agreeing.py",
    "workshop/searching/installing.py",
    "workshop/searching/postgresql.py",
    "workshop/searching/sqlite.py",
    "workshop/staff/append_only.py",
}


def names_of(text: str) -> set[str]:
    """Public functions and classes at the top of a module; several overloads are one."""
    nodes = [node for node in ast.parse(text).body if isinstance(node, ast.FunctionDef | ast.ClassDef)]
    return {node.name for node in nodes if not node.name.startswith("_")}


def modules() -> dict[str, str]:
    paths = [path for room in ("specs", "diagnosis", "workshop") for path in (ROOT / room).rglob("*.py")]
    named = {path.relative_to(ROOT).as_posix(): path for path in paths if "__pycache__" not in path.parts}
    return {
        name: path.read_text()
        for name, path in named.items()
        if not path.stem.endswith("views") and not {"migrations", "commands"} & set(path.parts)
    }


def twice(texts: dict[str, str]) -> dict[str, list[str]]:
    where: dict[str, list[str]] = defaultdict(list)
    for module, text in texts.items():
        for name in names_of(text):
            where[name].append(module)
    return {
        name: found for name, found in where.items() if len(found) > 1 and not _STAND_FOR_EACH_OTHER.issuperset(found)
    }


def test_each_public_name_is_defined_once() -> None:
    texts = modules()
    assert len(texts) > 500
    assert texts.keys() >= _STAND_FOR_EACH_OTHER
    assert twice(texts) == {}


def test_a_second_one_is_found() -> None:
    texts = {"workshop/a.py": "def settle(): ...\n", "workshop/b.py": "class settle: ...\n", "workshop/c.py": "x = 1\n"}
    assert twice(texts) == {"settle": ["workshop/a.py", "workshop/b.py"]}
    assert twice({"workshop/a.py": "def _own(): ...\n", "workshop/b.py": "def _own(): ...\n"}) == {}
