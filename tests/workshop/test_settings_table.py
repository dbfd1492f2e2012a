"""The README's table of settings has every variable that the code reads from its environment, and no other."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

CODE = Path(__file__).resolve().parents[2]
# What the machine, or another process of the shop, sets by itself.
NO_SETTINGS = {
    "CI": "set by whatever runs the checks",
    "DJANGO_SETTINGS_MODULE": "set by manage.py",
    "LANG": "the machine's",
    "PATH": "the machine's",
    "SHOP_NETWORK": "handed by `serve --shop-network` to the server",
    "SHOP_CERTIFICATE": "handed by `serve --certificate` to the server",
    "SHOP_FILE": "handed by the server to its workers",
    "SHOP_SERVED_ON": "handed by `serve` to the server",
    "TERM": "the machine's",
}
_READERS = {"_flag", "_number"}  # of settings.py


def settings_of_the_readme() -> set[str]:
    """The names in the first cells of the table of settings."""
    text = (CODE / "README.md").read_text()
    table = text[text.index("| environment |") :].split("\n\n")[0]
    cells = [line.split("|")[1] for line in table.splitlines()[2:]]
    return {name for cell in cells for name in re.findall(r"`([A-Z][A-Z_]+)`", cell)}


def read_by(source: str) -> set[str]:
    """Names of the variables that some code reads."""
    tree = ast.parse(source)
    constants = {
        target.id: node.value.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Assign) and isinstance(node.value, ast.Constant) and isinstance(node.value.value, str)
        for target in node.targets
        if isinstance(target, ast.Name)
    }
    return {
        str(name.value if isinstance(name, ast.Constant) else constants[name.id])
        for node in ast.walk(tree)
        for name in _names(node)
        if isinstance(name, ast.Constant) or (isinstance(name, ast.Name) and name.id in constants)
    }


def _names(node: ast.AST) -> Iterator[ast.expr]:
    """What stands where a variable's name does: environ["X"], environ.get("X"), getenv("X"), "X" in environment."""
    if isinstance(node, ast.Subscript) and _is_environment(node.value):
        yield node.slice
    elif isinstance(node, ast.Compare) and _is_environment(node.comparators[0]):
        yield node.left
    elif isinstance(node, ast.Call) and node.args and _reads(node.func):
        yield node.args[0]


def _reads(function: ast.expr) -> bool:
    if isinstance(function, ast.Name):
        return function.id in _READERS | {"getenv"}
    if not isinstance(function, ast.Attribute):
        return False
    taken = {"get", "setdefault", "pop"}
    return function.attr == "getenv" or (function.attr in taken and _is_environment(function.value))


def _is_environment(node: ast.expr) -> bool:
    words = {"environ", "environment"}
    return (isinstance(node, ast.Attribute) and node.attr in words) or (isinstance(node, ast.Name) and node.id in words)


def read_anywhere() -> set[str]:
    folders = (CODE / "workshop", CODE / "diagnosis", CODE / "specs")
    files = [CODE / "manage.py", *(path for folder in folders for path in folder.rglob("*.py"))]
    request = {"CONTENT_LENGTH", "CONTENT_TYPE"}  # `environ` of WSGI, which is a request's
    read = {name for path in files for name in read_by(path.read_text()) if re.fullmatch(r"[A-Z][A-Z_]+", name)}
    services = "".join(path.read_text() for path in (CODE / ".examples").glob("*.service"))
    return (read | set(re.findall(r"\$([A-Z_]+)", services))) - request - set(NO_SETTINGS)


def test_the_table_has_what_the_code_reads_and_nothing_else() -> None:
    assert sorted(settings_of_the_readme()) == sorted(read_anywhere())


def test_every_way_to_read_one_is_seen() -> None:
    source = """
NAMED = "B_B"
os.environ.get("A_A"); os.environ[NAMED]; _flag("C_C", True); os.getenv("D_D"); "E_E" not in environment
environment.setdefault("F_F", ""); self.environment["G_G"]; other["H_H"]; "I_I" in words
"""
    assert read_by(source) == {"A_A", "B_B", "C_C", "D_D", "E_E", "F_F", "G_G"}
