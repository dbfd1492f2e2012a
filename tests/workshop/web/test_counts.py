"""“1 row”, “2 rows”: one function for every count in a text, and no word glued together in a template."""

from __future__ import annotations

import re

import pytest
from django.conf import settings
from django.template import Context, Template

from workshop.web.counts import counted

# A word that a tag ends: “row{{ n|pluralize }}”. Papers and the customer's page keep theirs.
_GLUED = re.compile(r"[^\W\d_]\{\{[^}]*\|pluralize")


@pytest.mark.parametrize(
    ("count", "words"), [(0, "0 rows"), (1, "1 row"), (2, "2 rows"), (21, "21 rows"), (1440, "1,440 rows")]
)
def test_a_count_has_its_word(count: int, words: str) -> None:
    assert counted(count, "row") == words
    assert Template('{{ n|counted:"row,rows" }}').render(Context({"n": count})) == words


def test_more_than_the_word_may_change_with_it() -> None:
    sentence = Template('{{ n|counted:"delivery is,deliveries are" }} late')
    assert sentence.render(Context({"n": 1})) == "1 delivery is late"
    assert sentence.render(Context({"n": 3})) == "3 deliveries are late"


def test_no_word_is_glued_together() -> None:
    folder = settings.BASE_DIR / "templates"
    kept = (folder / "documents", folder / "portal")
    glued = [
        str(path.relative_to(folder))
        for path in folder.rglob("*.html")
        if path.parent not in kept and _GLUED.search(path.read_text())
    ]
    assert glued == []
    assert _GLUED.search("{{ n }} row{{ n|pluralize }}")
