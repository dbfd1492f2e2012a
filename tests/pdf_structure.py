"""The structure tree of a tagged PDF."""

from __future__ import annotations

from typing import Any, cast

import pypdf


def elements_of(root: pypdf.PdfReader | Any) -> list[Any]:
    """All elements of a document's structure tree, or below one element of it."""
    found: list[Any] = []
    waiting: list[Any] = [
        cast(Any, root.trailer["/Root"])["/StructTreeRoot"] if isinstance(root, pypdf.PdfReader) else root
    ]
    while waiting:
        element = waiting.pop().get_object()
        if isinstance(element, list):
            waiting += element
        elif isinstance(element, dict):
            found.append(element)
            if "/K" in element:
                waiting.append(element["/K"])
    return found
