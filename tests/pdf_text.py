"""The words of a tagged PDF in the order in which it reads itself out: along its structure, not along its pages."""

from __future__ import annotations

import io
import re
from typing import Any

import pikepdf


def read_out(pdf: bytes, *, leave_out: tuple[str, ...] = ("Lbl",)) -> str:
    """All text of the structure tree, an element's words after the one before; elements of some roles left out."""
    with pikepdf.open(io.BytesIO(pdf)) as opened:
        words = {page.obj.objgen: _words_of(page) for page in opened.pages}
        return "".join(_below(opened.Root.StructTreeRoot, words, leave_out))


def unicode_of(font: Any) -> dict[int, str]:
    """What the glyphs of a font mean, from its ToUnicode map (ISO 32000-1, 9.10.3)."""
    if "/ToUnicode" not in font:
        return {}
    found: dict[int, str] = {}
    text = font.ToUnicode.read_bytes().decode("ascii")
    for block in re.findall(r"beginbfchar(.*?)endbfchar", text, re.S):
        for code, meaning in re.findall(r"<([0-9a-fA-F]+)>\s*<([0-9a-fA-F]*)>", block):
            found[int(code, 16)] = bytes.fromhex(meaning).decode("utf-16-be")
    for block in re.findall(r"beginbfrange(.*?)endbfrange", text, re.S):
        for low, high, first in re.findall(r"<([0-9a-fA-F]+)>\s*<([0-9a-fA-F]+)>\s*<([0-9a-fA-F]+)>", block):
            for step in range(int(high, 16) - int(low, 16) + 1):
                found[int(low, 16) + step] = chr(int(first, 16) + step)
    return found


def _below(element: Any, words: dict[tuple[int, int], dict[int, str]], leave_out: tuple[str, ...]) -> list[str]:
    if str(element.get("/S", ""))[1:] in leave_out:
        return []
    kids = element.get("/K", [])
    said = []
    for kid in kids if isinstance(kids, pikepdf.Array) else [kids]:
        if isinstance(kid, pikepdf.Dictionary):
            said += _below(kid, words, leave_out)
        else:
            said.append(words[element.Pg.objgen].get(int(kid), ""))
    return said


def _words_of(page: pikepdf.Page) -> dict[int, str]:
    """The words of each piece of marked content of a page."""
    maps = {str(name): unicode_of(font) for name, font in page.Resources.get("/Font", {}).items()}
    said: dict[int, str] = {}
    within: list[int | None] = []
    font: dict[int, str] = {}
    for instruction in pikepdf.parse_content_stream(page):
        operator, operands = str(instruction.operator), list(instruction.operands)
        if operator in ("BDC", "BMC"):
            has_number = operator == "BDC" and "/MCID" in operands[1]
            within.append(int(operands[1].MCID) if has_number else None)
        elif operator == "EMC":
            within.pop()
        elif operator == "Tf":
            font = maps[str(operands[0])]
        elif operator in ("Tj", "TJ") and within and within[-1] is not None:
            pieces = operands[0] if operator == "TJ" else operands
            codes = b"".join(bytes(piece) for piece in pieces if isinstance(piece, pikepdf.String))
            glyphs = zip(codes[::2], codes[1::2], strict=True)
            said[within[-1]] = said.get(within[-1], "") + "".join(
                font.get(high * 256 + low, "�") for high, low in glyphs
            )
    return said
