"""One word for one thing: no text that people see has a word that the glossary replaced, or a typewriter's apostrophe.

The glossary is templates/GLOSSARY.md. A change of a word starts there: its old name goes into the last column.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator

import pytest

from tests.words_seen import ROOT, Said, everything_said, in_checklist, in_python, in_script, in_template

GLOSSARY = ROOT / "templates/GLOSSARY.md"
_APOSTROPHE = re.compile(r"(?<=[^\W\d_])'(?=[^\W_])|(?<=[a-z]s)'(?= [a-z])")


def rows(text: str) -> Iterator[list[str]]:
    """The cells of each row of the tables, heads and rules left out."""
    for line in text.splitlines():
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        if line.startswith("|") and cells[0] not in {"Word", "---"}:
            yield cells


def replaced(text: str) -> dict[str, str]:
    """Each phrase that is not said any more, with the word that is."""
    return {phrase.strip(): row[0] for row in rows(text) for phrase in row[-1].split(";") if phrase.strip()}


def _pattern(phrase: str) -> str:
    if phrase.startswith("“"):
        return rf"^[\W_]*{re.escape(phrase.strip('“”'))}[\W_]*$"
    return rf"(?<!\w){re.escape(phrase)}(?!\w)"


def said_otherwise(said: Iterable[Said], phrases: dict[str, str]) -> list[str]:
    """Where a replaced phrase stands, and what should stand there."""
    patterns = {phrase: re.compile(_pattern(phrase), re.IGNORECASE) for phrase in phrases}
    any_of_them = re.compile("|".join(f"(?:{_pattern(phrase)})" for phrase in phrases), re.IGNORECASE)
    return [
        f"{one.path}:{one.line}: “{phrase.strip('“”')}” is “{phrases[phrase]}” now, in “{one.text[:100]}”"
        for one in said
        if any_of_them.search(one.text)
        for phrase, pattern in patterns.items()
        if pattern.search(one.text)
    ]


@pytest.fixture(scope="module")
def said() -> list[Said]:
    return list(everything_said())


def test_nothing_is_called_by_a_name_it_had(said: list[Said]) -> None:
    assert len(said) > 10_000
    assert said_otherwise(said, replaced(GLOSSARY.read_text())) == []


def test_apostrophes_are_curly(said: list[Said]) -> None:
    straight = [str(one) for one in said if _APOSTROPHE.search(one.text)]
    assert straight == []


def test_the_glossary_can_be_read() -> None:
    text = GLOSSARY.read_text()
    table = list(rows(text))
    assert len(table) > 100
    assert {len(row) for row in table} == {4}
    words = [row[0] for row in table]
    assert sorted(words) == sorted(set(words)), "a word stands for one thing"
    assert all(row[1].endswith(".") for row in table), "each has its meaning in a sentence"


def test_no_word_is_what_another_replaced() -> None:
    text = GLOSSARY.read_text()
    words = [Said("templates/GLOSSARY.md", 0, cell) for row in rows(text) for cell in (row[0], row[2])]
    assert said_otherwise(words, replaced(text)) == []


PLANTED = "| Price limit | The most. | | price ceiling; “ceiling” |"


@pytest.mark.parametrize(
    ("read", "text", "line"),
    [
        (in_template, "<p>one</p>\n<p>The\n  price ceiling is low</p>", 2),
        (in_template, '<p>one</p>\n\n<a aria-label="Change the price ceiling" href="">x</a>', 3),
        (in_template, '{% include "a.html" with label="Price ceiling" %}', 1),
        (in_template, "{{ limit|default:'no price ceiling' }}", 1),
        (in_template, "<th>Ceiling</th>", 1),
        (in_python, 'x = 1\nlabel = "Price ceiling"', 2),
        (in_python, 'def f(n: int) -> str:\n    return f"{n} is above the price ceiling."', 2),
        (in_python, 'add_argument("--most", help="the price ceiling of a ticket")', 1),
        (in_script, 'const a = 1;\nsay("Above the price ceiling");', 2),
        (in_checklist, "title: One\nsteps:\n  - do: Ask for the price ceiling.", 3),
    ],
)
def test_a_planted_word_is_found_with_its_line(
    read: Callable[[str], Iterator[tuple[int, str]]], text: str, line: int
) -> None:
    said = [Said("there", number, words) for number, words in read(text)]
    found = said_otherwise(said, replaced(PLANTED))
    assert [words.split(": ")[0] for words in found] == [f"there:{line}"]
    assert "“Price limit” now" in found[0]


@pytest.mark.parametrize(
    ("read", "text"),
    [
        (in_template, "{# the price ceiling #}<p>{{ ticket.price_ceiling }}</p>{% if price_ceiling %}x{% endif %}"),
        (in_template, '<p class="price ceiling">A high ceiling</p><script>"price ceiling"</script>'),
        (in_python, '"""Above the price ceiling."""\nx = row["price_ceiling"]  # price ceiling'),
        (in_python, 'cursor.execute("SELECT the price ceiling")\nlog = getLogger("the price ceiling")'),
        (in_script, '// price ceiling\nconst a = "price-ceiling"; /* price ceiling */'),
        (in_checklist, "# price ceiling\nkey: price-ceiling\ntitle: One word"),
    ],
)
def test_what_nobody_sees_may_be_called_as_before(read: Callable[[str], Iterator[tuple[int, str]]], text: str) -> None:
    said = [Said("there", number, words) for number, words in read(text)]
    assert said_otherwise(said, replaced(PLANTED)) == []


@pytest.mark.parametrize(
    ("text", "is_straight"),
    [("the maker's", True), ("don't", True), ("customers' bikes", True), ("the maker’s", False), ("'quoted'", False)],
)
def test_a_straight_apostrophe_is_told_from_a_quotation_mark(text: str, is_straight: bool) -> None:
    assert bool(_APOSTROPHE.search(text)) == is_straight
