"""What SECURITY.md says in numbers is what the code does, and no limit of what is sent is left out of it."""

from __future__ import annotations

import ast
import datetime as dt
import importlib
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.conf import settings

from workshop.apart.kinds import KINDS, MB

ROOT = Path(__file__).parents[2]
PAGE = ROOT / ".readme" / "SECURITY.md"
_UNITS = {"MB": (MB,), "hours": (60,), "days": (1, 24 * 3600)}  # kept in bytes, in minutes, in days or seconds
_A_LIMIT = re.compile(r"MOST_(\w+_)?(BYTES|PIXELS|FILES|POINTS|PAGES|WRONG)(_\w+)?")
_ROOMS_THAT_SEND_NOTHING = ("workshop/plots/", "workshop/sums/", "workshop/migrations/", "workshop/management/")


def rows(text: str) -> Iterator[tuple[list[str], str]]:
    """Each row that names a constant, as its cells and that name."""
    for line in text.splitlines():
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        named = re.fullmatch(r"`([\w.]+:[A-Z_]+)`", cells[-1])
        if named:
            yield cells, named[1]


def constant(name: str) -> object:
    module, _, constant_name = name.partition(":")
    if module == "workshop.settings":
        return declared_in_settings(constant_name)
    return getattr(importlib.import_module(module), constant_name)


def declared_in_settings(name: str) -> object:
    """As the file has it: the tests give some settings values of their own."""
    for node in ast.parse((ROOT / "workshop" / "settings.py").read_text()).body:
        if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name) and node.targets[0].id == name:
            value = node.value.args[1] if isinstance(node.value, ast.Call) else node.value
            return eval(compile(ast.Expression(value), name, "eval"))  # noqa: S307  our own settings
    raise LookupError(name)


def says(cells: list[str], value: object) -> bool:
    """Whether a row's number is this value, in the unit behind it where the value has another."""
    said = re.search(r"(\d+) ?(\w*)", " ".join(cells[1:-1]))
    if said is None:
        return False
    number, unit = int(said[1]), said[2]
    if isinstance(value, dt.timedelta):
        return dt.timedelta(**{unit: number}) == value
    return value in [number * size for size in _UNITS.get(unit, (1,))]


ROWS = list(rows(PAGE.read_text()))


@pytest.mark.parametrize(("cells", "name"), ROWS, ids=[name for _, name in ROWS])
def test_each_number_is_the_one_of_the_code(cells: list[str], name: str) -> None:
    assert says(cells, constant(name)), (cells, constant(name))


def test_another_number_is_found() -> None:
    assert says(["photo", "20 MB", ""], 20 * MB)
    assert not says(["photo", "25 MB", ""], 20 * MB)
    assert not says(["photo", "20 MB", ""], 20)
    assert not says(["photo", "at most", ""], 20 * MB)
    assert says(["idle", "8 hours", ""], 480)
    assert not says(["idle", "8 minutes", ""], 480)
    assert says(["link", "90 days", ""], dt.timedelta(days=90))
    assert not says(["link", "9 days", ""], dt.timedelta(days=90))
    assert len(ROWS) > 30


def limits() -> set[str]:
    found = set()
    for path in [*(ROOT / "workshop").rglob("*.py"), *(ROOT / "diagnosis").rglob("*.py")]:
        module = path.relative_to(ROOT).as_posix()
        if module.startswith(_ROOMS_THAT_SEND_NOTHING):
            continue
        for node in ast.parse(path.read_text()).body:
            targets = node.targets if isinstance(node, ast.Assign) else []
            found |= {
                f"{module.removesuffix('.py').replace('/', '.')}:{target.id}"
                for target in targets
                if isinstance(target, ast.Name) and _A_LIMIT.fullmatch(target.id)
            }
    return found


def test_every_limit_of_what_is_sent_and_tried_has_a_line() -> None:
    named = {name for _, name in ROWS}
    assert len(limits()) > 15
    assert limits() - named == set()


def test_so_has_every_kind_of_work_that_is_done_apart() -> None:
    text = PAGE.read_text()
    for kind in KINDS:
        row = f"| {kind.key} | {kind.memory_bytes // MB} MB | {kind.within_s:.0f} s | {kind.places} |"
        assert row in text, row


@pytest.mark.parametrize(
    ("part", "fewest", "words"),
    [
        ("Ways in", 5, ["password", "second factor", "short code", "link of a ticket", "let_in"]),
        ("Times", 8, ["signed in, doing nothing", "as many devices as they like", "a customer's link"]),
        ("What may be sent, and how much", 15, ["from its bytes, never from its name"]),
        ("What is dear, and done apart", 4, ["is told to come again"]),
        ("What is kept secret, and how", 10, ["secret key", "recovery codes", "Register, with why and how long"]),
        ("What is written down", 5, ["security log", "sign-ins", "errors"]),
    ],
)
def test_each_part_stands_there_with_its_rows(part: str, fewest: int, words: list[str]) -> None:
    (text,) = [section for section in PAGE.read_text().split("\n## ") if section.startswith(f"{part}\n")]
    assert len(re.findall(r"^\| (?!---)", text, re.MULTILINE)) - 1 >= fewest
    assert [word for word in words if word not in text] == []


def test_passwords_are_kept_as_it_says() -> None:
    assert "passwords | Argon2id digests" in PAGE.read_text()
    assert declared_in_settings("PASSWORD_HASHERS") == ["django.contrib.auth.hashers.Argon2PasswordHasher"]
    assert settings.SESSION_COOKIE_HTTPONLY
