"""The columns that a kind of sheet knows, and which column of a file is which of them. Pure but for the fold."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from specs.numbers import split_number
from workshop.web.folding import fold

_NUMBER = re.compile(r"-?[0-9][0-9.,' \u00a0\u202f]*")
_GROUPED = {",": r"[0-9]{1,3}(?:,[0-9]{3})+", ".": r"[0-9]{1,3}(?:\.[0-9]{3})+"}


@dataclass(frozen=True)
class Column:
    """A column: its name in our own files, what it holds, and by which other heads it is known.

    Attributes:
        decimals: how many the values have, where they are numbers; None for words.
        unit: of a number; also the words of what a cell may be.
        points_at: the file and column whose rows it names.
        sample: a cell of the sample file.
    """

    name: str
    words: str
    heads: tuple[str, ...] = ()
    required: bool = False
    decimals: int | None = None
    unit: str = ""
    points_at: str = ""
    sample: str = ""


def known_heads(columns: Iterable[Column]) -> dict[str, str]:
    """Heads, with nothing in them but letters and figures, and the column each means."""
    known: dict[str, str] = {}
    for column in columns:
        for head in (column.name, *column.heads):
            known.setdefault(_plain(head), column.name)
    return known


def guess(columns: Sequence[Column], heads: Sequence[str]) -> list[str]:
    """For each head of a file the column it most likely is; "" where none is, or where another took it before."""
    known, taken, guessed = known_heads(columns), set[str](), []
    for head in heads:
        name = known.get(_plain(head), "")
        guessed.append("" if name in taken else name)
        taken.add(name)
    return guessed


def says_it_itself(columns: Sequence[Column], heads: Sequence[str]) -> bool:
    """Whether the heads are our own names, each once, and none is missing: then there is nothing to match."""
    names = [head.strip().lower() for head in heads]
    known = {column.name for column in columns}
    required = {column.name for column in columns if column.required}
    return set(names) <= known and len(set(names)) == len(names) and required <= set(names)


def decimal_signs(cells: Iterable[str]) -> tuple[set[str], list[str]]:
    """What the numbers of a file say of their decimal sign: the signs that stand plain, and what could be read twice.

    “12,5” says comma; “1.200,50” and “12,5 ml” too; “1.500” could be one and a half, or fifteen hundred.
    """
    signs, doubtful = set[str](), list[str]()
    for cell in cells:
        bare = split_number(cell)[0].lstrip("-+").strip()
        if not _NUMBER.fullmatch(bare) or not ("," in bare or "." in bare):
            continue
        last = max(bare.rfind(","), bare.rfind("."))
        sign, other = bare[last], "." if bare[last] == "," else ","
        if other in bare:
            signs.add(sign)
        elif bare.count(sign) > 1:
            signs.add(other)
        elif re.fullmatch(_GROUPED[sign], bare) and not bare.startswith("0"):
            doubtful.append(cell.strip())
        else:
            signs.add(sign)
    return signs, doubtful


def with_sign(cell: str, sign: str) -> str:
    """A number whose decimal sign is known, so that nobody reads it in another way; anything else as it stands.

    What stands behind the number, as a unit does, stays there.
    """
    number, behind = split_number(cell)
    if number and behind:
        return f"{with_sign(number, sign)} {behind}"
    bare = cell.strip()
    minus, bare = ("-", bare[1:].strip()) if bare[:1] in "-−" and bare else ("", bare.removeprefix("+"))
    group = "." if sign == "," else ","
    whole, mark, rest = bare.partition(sign)
    if not re.fullmatch(rf"[0-9]+|{_GROUPED[group]}", whole or "0") or not (rest.isdecimal() or not mark):
        return cell
    return minus + unmistakable(f"{whole.replace(group, '') or '0'}{'.' if mark else ''}{rest}")


def unmistakable(plain: str) -> str:
    """A number with a point and no groups, so that no field takes its point for one between thousands."""
    if "." not in plain:
        return plain
    short = format(Decimal(plain).normalize(), "f")
    return f"{short}0" if len(short.partition(".")[2]) == 3 else short


def _plain(head: str) -> str:
    return re.sub(r"[^a-z0-9]", "", fold(head))
