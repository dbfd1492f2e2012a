"""Longer sentences, also from right to left: nothing leaves the paper, and no line is printed over another."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations
from typing import Any

import pytest

from tests.workshop.languages.test_papers import THEIRS, issued
from workshop.documents.rendering import PAPERS, by_weasyprint
from workshop.issued.models import Document
from workshop.pseudo_names import ACCENTED, FROM_RIGHT

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("pseudo"), pytest.mark.any_database]


def laid_out(html: str, paper: str = "A4") -> Any:
    """WeasyPrint's document, with the boxes of each page."""
    kept: list[Any] = []
    by_weasyprint(html, PAPERS[paper], finisher=lambda document, pdf: kept.append(document))
    return kept[0]


def texts_of(page: Any) -> Iterator[tuple[str, float, float, float, float]]:
    """Each piece of text of a page with its left, top, right and bottom in CSS pixels, where small letters stand: the
    box of a font is taller than a line may be.
    """
    for box in page._page_box.descendants():
        if text := getattr(box, "text", ""):
            left, top, height = box.position_x, box.position_y, box.height
            yield text, left, top + height * 0.3, left + box.width, top + height * 0.75


def misplaced(document: Any) -> list[str]:
    """What stands beyond the edge of its page, and what is printed over another line."""
    found = []
    for page in document.pages:
        texts = [one for one in texts_of(page) if one[0].strip()]
        found += [
            f"beyond the edge: {text}"
            for text, left, top, right, bottom in texts
            if left < 0 or top < 0 or right > page.width or bottom > page.height
        ]
        for one, other in combinations(texts, 2):
            across = min(one[3], other[3]) - max(one[1], other[1])
            down = min(one[4], other[4]) - max(one[2], other[2])
            if across > 2 and down > 1:
                found.append(f"one over the other: {one[0]} | {other[0]}")
    return found


@pytest.mark.parametrize(
    ("kind", "code"), [*((kind, FROM_RIGHT) for kind in THEIRS), (Document.Kind.CUSTOMER_REPORT, ACCENTED)]
)
def test_everything_stands_on_the_paper_and_nothing_on_another(
    kind: str, code: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    pages: list[str] = []

    def keep(html: str, paper: str) -> bytes:
        pages.append(html)
        return html.encode()

    monkeypatch.setattr("workshop.documents.issuing.pdf_of", keep)
    issued(kind, code)
    assert misplaced(laid_out(pages[0])) == []


def test_what_is_looked_for_is_found() -> None:
    head = '<!doctype html><html lang="en"><title>x</title><body>'
    far = f'{head}<p style="margin-left: 170mm; white-space: nowrap">as wide as it wants to be</p>'
    over = f'{head}<p>One</p><p style="margin-top: -4mm">Another</p>'
    assert any(words.startswith("beyond") for words in misplaced(laid_out(far)))
    assert any(words.startswith("one over") for words in misplaced(laid_out(over)))
    assert misplaced(laid_out(f"{head}<p>One</p><p>Another</p>")) == []
