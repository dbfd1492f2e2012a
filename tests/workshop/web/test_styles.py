"""Styles and pages name the same classes: no rule without a page, no class without a rule."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from functools import cache
from itertools import product
from pathlib import Path
from typing import Any

import tinycss2
from django.conf import settings

from diagnosis.cautions import LEVELS
from workshop.web.chips import CHIPS

BASE = Path(settings.BASE_DIR)
SHEETS = [*(BASE / "static" / "css").glob("*.css"), *(BASE / "static" / "documents").glob("*.css")]
# The page of all components shows classes; it does not use them.
TEMPLATES = [path for path in (BASE / "templates").rglob("*.html") if path.name != "_patterns.html"]
# A class whose end is filled in: its beginning in a template or in Python, and the ends there are.
ENDINGS: dict[str, Iterable[str]] = {
    "chip--": CHIPS,
    "message--": ("success", "info", "warning", "error"),  # Django's levels that are shown
    "reading__verdict--": ("off", "unsure"),
    "signal--": LEVELS,
}
SET_BY_HTMX = {"htmx-request"}
# Classes without a rule of their own, each with why it stays.
WITHOUT_A_RULE = {
    **dict.fromkeys(["chip--booked_in", "chip--coming_up"], "looks as a chip does by itself"),
    **dict.fromkeys(["area-counter", "area-office", "area-stores", "area-sums"], "looks as a page does by itself"),
    **dict.fromkeys(
        ["cause", "finding__head", "job__day", "jobs", "moves__reason", "part-lines"],
        "only names a part that looks as what is around it",
    ),
    **dict.fromkeys(
        ["picks--row", "readings", "recovery-codes", "spec-group", "spring", "spring__headline", "spring__words"],
        "only names a part that looks as what is around it",
    ),
    **dict.fromkeys(["times", "to-check__do", "tried"], "only names a part that looks as what is around it"),
}
LONGEST = 400
STILL_LONGER = 0  # lines of templates that were longer when this began; it only goes down


@cache
def classes_with_rules() -> dict[str, str]:
    """Each class that a selector names, and its sheet."""
    found: dict[str, str] = {}
    for sheet in SHEETS:
        rules = tinycss2.parse_stylesheet(sheet.read_text(), skip_comments=True, skip_whitespace=True)
        found |= dict.fromkeys(_classes_in_rules(rules), sheet.name)
    return found


def _classes_in_rules(rules: list[Any]) -> Iterator[str]:
    for rule in rules:
        assert rule.type != "error", f"{rule.message} in line {rule.source_line}"
        if rule.type == "qualified-rule":
            yield from _classes_in(rule.prelude)
            content = tinycss2.parse_blocks_contents(rule.content, skip_comments=True, skip_whitespace=True)
            yield from _classes_in_rules([part for part in content if part.type == "qualified-rule"])  # nested
        elif rule.lower_at_keyword in {"media", "supports", "layer", "container"} and rule.content:
            yield from _classes_in_rules(
                tinycss2.parse_rule_list(rule.content, skip_comments=True, skip_whitespace=True)
            )


def _classes_in(selector: list[Any]) -> Iterator[str]:
    before = None
    for token in selector:
        if token.type == "ident" and before == ".":
            yield token.value
        if token.type == "function":  # :is(), :not(), :has()
            yield from _classes_in(token.arguments)
        before = token


CLASS_ATTRIBUTE = re.compile(r"""\bclass=("|')((?:\{%.*?%\}|\{\{.*?\}\}|(?!\1).)*)\1""", re.DOTALL)
BRANCH = re.compile(r"\{% if [^%]*%\}((?:(?!\{%).)*)(?:\{% elif [^%]*%\}|\{% else %\})?((?:(?!\{%).)*)\{% endif %\}")
MADE_BY_SCRIPT = re.compile(r"""make\("\w+", "([^"]*)"|classList\.\w+\("([\w-]+)\"|className = "([^"]*)\"""")


def classes_written(text: str) -> set[str]:
    """The classes of a template's, a function's or a script's class attributes, whichever way its ifs go."""
    found: set[str] = set()
    for _, attribute in CLASS_ATTRIBUTE.findall(text):
        branches = [(no, yes) for yes, no in BRANCH.findall(attribute)]
        pieces = BRANCH.split(attribute)[::3]
        for ways in product(*branches):
            whole = "".join(piece + way for piece, way in zip(pieces, (*ways, ""), strict=True))
            for name in re.sub(r"\{%.*?%\}|\{\{.*?\}\}|\{\}", "\0", whole).split():
                beginning, filled_in, _ = name.partition("\0")
                found |= {beginning + end for end in ENDINGS.get(beginning, ())} if filled_in else {name}
    return found


@cache
def classes_used() -> dict[str, str]:
    """Each class that a page can have, and one file that gives it."""
    found: dict[str, str] = {}
    for path in [*TEMPLATES, *(BASE / "workshop").rglob("*.py"), *(BASE / "static" / "js").glob("*.js")]:
        text = path.read_text()
        names = classes_written(text)
        names |= {f"area-{area}" for area in re.findall(r"\{% block area %\}(\w+)\{% endblock %\}", text)}
        if path.suffix == ".js":
            names |= {name for made in MADE_BY_SCRIPT.findall(text) for one in made for name in one.split()}
        found |= dict.fromkeys(names, str(path.relative_to(BASE)))
    return found


def test_every_rule_has_a_page() -> None:
    assert len(classes_with_rules()) > 200
    dead = {name: sheet for name, sheet in classes_with_rules().items() if name not in classes_used()}
    assert {name: sheet for name, sheet in dead.items() if name not in SET_BY_HTMX} == {}


def test_every_class_has_a_rule_or_a_reason() -> None:
    bare = {name: path for name, path in classes_used().items() if name not in classes_with_rules()}
    assert {name: path for name, path in bare.items() if name not in WITHOUT_A_RULE} == {}
    assert set(WITHOUT_A_RULE) <= set(bare), "no longer used, or it has a rule now"


def test_a_class_that_an_if_gives_is_seen_either_way() -> None:
    written = 'class="a{% if x == "y" %} a--b{% endif %} m--{% if z %}c{% else %}d{% endif %} message--{{ level }}"'
    assert classes_written(written) == {"a", "a--b", "m--c", "m--d"} | {
        f"message--{level}" for level in ("success", "info", "warning", "error")
    }


def test_a_selector_is_read_with_all_that_is_in_it() -> None:
    sheet = "@media print { .a > .b:not(.c, [class]) { margin: .5em } } .d:is(td.e) { color: red; & .f { top: 0 } }"
    rules = tinycss2.parse_stylesheet(sheet, skip_whitespace=True)
    assert sorted(_classes_in_rules(rules)) == ["a", "b", "c", "d", "e", "f"]


def test_lines_of_templates_can_be_read() -> None:
    longer = [
        f"{path.relative_to(BASE)}:{number} has {len(line)}"
        for path in sorted((BASE / "templates").rglob("*.html"))
        for number, line in enumerate(path.read_text().splitlines(), 1)
        if len(line) > LONGEST
    ]
    assert len(longer) <= STILL_LONGER, "\n".join(longer)
