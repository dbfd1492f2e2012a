"""What a machine can check of ISO 14289-1:2014 (PDF/UA-1), each fault with its clause.

Two checkers: `pdfua`, which decides 16 of the 106 rules that are counted for PDF/UA-1, and this file's own for what it
leaves out: the grammar of tables and lists (7.2), scope (7.5), the levels of headings (7.4), what is in and around
artifacts (7.1), the parent tree, embedded fonts and what their glyphs mean (7.21).
Not checked by either: colour, whether words say what a picture shows, the outlines of fonts, metadata beyond its title.
"""

from __future__ import annotations

import io
import re
import tempfile
from collections.abc import Iterator
from itertools import pairwise
from typing import Any

import pdfua
import pikepdf

from tests.pdf_text import unicode_of

# The standard types of ISO 32000-1, 14.8.4, that these documents may use.
_STANDARD = {
    "Document",
    "Part",
    "Art",
    "Sect",
    "Div",
    "BlockQuote",
    "Caption",
    "NonStruct",
    "P",
    "Span",
    "Quote",
    "Link",
}
_STANDARD |= {"H", "H1", "H2", "H3", "H4", "H5", "H6", "L", "LI", "Lbl", "LBody", "Figure"}
_STANDARD |= {"Table", "TR", "TH", "TD", "THead", "TBody", "TFoot"}
_CHILDREN = {
    "Table": {"TR", "THead", "TBody", "TFoot", "Caption"},
    "THead": {"TR"},
    "TBody": {"TR"},
    "TFoot": {"TR"},
    "TR": {"TH", "TD"},
    "L": {"L", "LI", "Caption"},
    "LI": {"Lbl", "LBody"},
}
_PARENTS = {
    "TR": {"Table", "THead", "TBody", "TFoot"},
    "THead": {"Table"},
    "TBody": {"Table"},
    "TFoot": {"Table"},
    "TH": {"TR"},
    "TD": {"TR"},
    "LI": {"L"},
    "LBody": {"LI"},
}
_SHOWS = {"Tj", "TJ", "'", '"', "Do", "f", "f*", "F", "S", "s", "B", "B*", "b", "b*", "sh", "EI", "INLINE IMAGE"}


def faults_of(pdf: bytes) -> list[str]:
    """Every fault, with its clause or rule; none for a file that conforms as far as a machine sees."""
    return [*_faults_by_pdfua(pdf), *own_faults(pdf)]


def own_faults(pdf: bytes) -> list[str]:
    with pikepdf.open(io.BytesIO(pdf)) as opened:
        root = opened.Root.StructTreeRoot
        elements = list(_elements(root, ""))
        faults = [f"6.1: {problem}" for problem in opened.check_pdf_syntax()]
        return [
            *faults,
            *_grammar(elements),
            *_headings([role for _, role, _ in elements]),
            *_tables(elements),
            *_figures(elements),
            *_pages(opened, elements),
            *_fonts(opened),
        ]


def _faults_by_pdfua(pdf: bytes) -> Iterator[str]:
    with tempfile.NamedTemporaryFile(suffix=".pdf") as file:
        file.write(pdf)
        file.flush()
        for finding in pdfua.validate(file.name).findings:
            yield f"{finding.pdfua_clause}: {finding.rule_id} {finding.message}"


def _elements(parent: Any, role: str) -> Iterator[tuple[Any, str, str]]:
    """Every element below one with its role and its parent's, in the order of reading."""
    kids = parent.get("/K", [])
    for kid in kids if isinstance(kids, pikepdf.Array) else [kids]:
        if isinstance(kid, pikepdf.Dictionary) and "/S" in kid:
            own = str(kid.S)[1:]
            yield kid, own, role
            yield from _elements(kid, own)


def _roles_below(element: Any) -> set[str]:
    return {str(kid.S)[1:] for kid in element.K if isinstance(kid, pikepdf.Dictionary) and "/S" in kid}


def _grammar(elements: list[tuple[Any, str, str]]) -> Iterator[str]:
    for element, role, parent in elements:
        if role not in _STANDARD:
            yield f"7.1: {role} is no standard type"
        if wrong := _roles_below(element) - _CHILDREN.get(role, _STANDARD):
            yield f"7.2: {', '.join(sorted(wrong))} in {role}"
        if parent not in _PARENTS.get(role, {parent}):
            yield f"7.2: {role} in {parent}"


def _headings(roles: list[str]) -> Iterator[str]:
    levels = [int(role[1]) for role in roles if re.fullmatch("H[1-6]", role)]
    if "H" in roles:
        yield "7.4.4: an unnumbered heading among numbered ones"
    if levels and levels[0] != 1:
        yield f"7.4.2: the first heading is of level {levels[0]}"
    for above, below in pairwise(levels):
        if below > above + 1:
            yield f"7.4.2: level {below} after {above}"


def _tables(elements: list[tuple[Any, str, str]]) -> Iterator[str]:
    for element, role, _ in elements:
        if role == "TH" and str(element.get("/A", {}).get("/Scope", "")) not in ("/Row", "/Column", "/Both"):
            yield "7.5: a header cell without scope"
        if role == "Table":
            widths = {_width(row) for row, kind, _ in _elements(element, role) if kind == "TR"}
            if len(widths) > 1:
                yield f"7.2: rows of {widths} columns in one table"
            if not any(kind == "TH" for _, kind, _ in _elements(element, role)):
                yield "7.5: a table without a header cell"


def _width(row: Any) -> int:
    """How many columns a row has; no cell of these documents spans rows."""
    return sum(int(cell.get("/A", {}).get("/ColSpan", 1)) for cell in row.K)


def _figures(elements: list[tuple[Any, str, str]]) -> Iterator[str]:
    for element, role, _ in elements:
        if role in ("Figure", "Formula") and not str(element.get("/Alt", "")).strip():
            yield f"7.3: a {role} without words"


def _pages(pdf: pikepdf.Pdf, elements: list[tuple[Any, str, str]]) -> Iterator[str]:
    owned: dict[int, list[Any]] = {}
    numbers = list(pdf.Root.StructTreeRoot.ParentTree.Nums)
    for key, value in zip(numbers[::2], numbers[1::2], strict=True):
        owned[int(key)] = list(value) if isinstance(value, pikepdf.Array) else []
    for number, page in enumerate(pdf.pages, start=1):
        claimed = {
            int(kid)
            for element, _, _ in elements
            if element.get("/Pg") is not None and element.Pg.objgen == page.obj.objgen
            for kid in element.K
            if not isinstance(kid, pikepdf.Object)
        }
        marked, faults = _marked(page)
        yield from (f"{fault}, page {number}" for fault in faults)
        if marked != claimed:
            yield f"7.1: content {sorted(marked ^ claimed)} is marked and not read, or the other way, page {number}"
        tree = {place for place, owner in enumerate(owned[int(page.obj.StructParents)]) if owner is not None}
        if tree != claimed:
            yield f"7.1: the parent tree has {sorted(tree ^ claimed)} otherwise, page {number}"
        if page.obj.get("/Annots") and str(page.obj.get("/Tabs")) != "/S":
            yield f"7.18.3: no order of tabs, page {number}"


def _marked(page: pikepdf.Page) -> tuple[set[int], list[str]]:
    """The numbers of marked content on a page, and what stands outside or in the wrong one."""
    within: list[str] = []
    marked: set[int] = set()
    faults = []
    for instruction in pikepdf.parse_content_stream(page):
        operator = str(instruction.operator)
        if operator in ("BDC", "BMC"):
            tag = str(instruction.operands[0])
            if "/Artifact" in within or (within and tag == "/Artifact"):
                faults.append(f"7.1: {tag} within {within[-1]}")
            within.append(tag)
            if operator == "BDC" and "/MCID" in instruction.operands[1]:
                marked.add(int(instruction.operands[1].MCID))
        elif operator == "EMC":
            within.pop()
        elif operator in _SHOWS and not within:
            faults.append(f"7.1: {operator} is neither tagged nor an artifact")
    return marked, faults


def _fonts(pdf: pikepdf.Pdf) -> Iterator[str]:
    fonts = {font.objgen: font for page in pdf.pages for font in page.Resources.get("/Font", {}).values()}
    for font in fonts.values():
        (descendant,) = font.DescendantFonts
        if not {"/FontFile", "/FontFile2", "/FontFile3"} & set(descendant.FontDescriptor.keys()):
            yield f"7.21.4.1: {font.BaseFont} is not embedded"
        if str(font.Encoding) != "/Identity-H":
            yield f"7.21.3.1: {font.BaseFont} is encoded as {font.Encoding}"
        if "/CIDToGIDMap" not in descendant and str(descendant.Subtype) == "/CIDFontType2":
            yield f"7.21.3.2: {font.BaseFont} has no CIDToGIDMap"
        meanings = set(unicode_of(font).values())
        if "/ToUnicode" not in font or meanings & {"", "\0", "\ufeff", "\ufffe"}:
            yield f"7.21.7: glyphs of {font.BaseFont} mean nothing"
