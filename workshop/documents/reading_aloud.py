"""What WeasyPrint leaves out of a tagged PDF, added before it is written: the step that makes it PDF/UA-1.

It runs as WeasyPrint's finisher, on the objects in memory, so that no file is read and written anew. Header cells get
their scope (WeasyPrint's issue 2508), and what stands in the margin of a page becomes an artifact (its issue 1836).
Clauses are those of ISO 14289-1:2014; the structure's keys are those of ISO 32000-1, 14.7 and 14.8.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

_HEADS = ("/THead",)
_FOOTER = "<</Type/Pagination/Subtype/Footer>>"


def read_aloud(document: Any, pdf: Any) -> None:
    """Finish the structure of `pdf`, a `pydyf.PDF` with tags; `document` is the laid out one, and is not looked at."""
    objects = {one.reference: one for one in pdf.objects}
    root = objects[pdf.catalog["StructTreeRoot"]]
    read = {element.reference: group for element, group in _below(objects, root, "")}
    for reference, group in read.items():
        _scope(objects[reference], group)
    _margins_are_artifacts(objects, pdf, root, set(read))


def _below(objects: dict[bytes, Any], element: Any, group: str) -> Iterator[tuple[Any, str]]:
    """Every structure element below one, in the order of reading, with the group of rows that it stands in."""
    for kid in element["K"]:
        child = objects.get(kid)  # else the number of a piece of content
        if child is not None and child.get("Type") == "/StructElem":
            inside = child["S"] if child["S"] in ("/THead", "/TBody", "/TFoot", "/Table") else group
            yield child, inside
            yield from _below(objects, child, inside)


def _scope(element: Any, group: str) -> None:
    """A header's scope (7.5) is its column in a table's head, else its row; it replaces WeasyPrint's lists of headers.

    Their identifiers come again on each page of a long table, where they must be unique.
    """
    if element["S"] == "/TH":
        element["A"]["Scope"] = "/Column" if group in _HEADS else "/Row"
        element.pop("ID", None)
    elif element["S"] == "/TD":
        element["A"].pop("Headers", None)
        if len(element["A"]) == 1:
            del element["A"]


def _margins_are_artifacts(objects: dict[bytes, Any], pdf: Any, root: Any, read: set[bytes]) -> None:
    """Content whose element hangs on no tree stands in a margin: 7.8 asks for a pagination artifact."""
    numbers = objects[root["ParentTree"]]["Nums"]
    owners = dict(zip(numbers[::2], numbers[1::2], strict=True))
    for page in (objects[reference] for reference in pdf.page_references):
        owned = owners[page["StructParents"]]
        margins = {number for number, owner in enumerate(owned) if owner not in read}
        commands = objects[page["Contents"]].stream
        for place, command in enumerate(commands):
            if command == b"BDC" and commands[place - 1].get("MCID") in margins:
                commands[place - 2 : place] = ["/Artifact", _FOOTER]
        for number in margins:
            owned[number] = "null"
