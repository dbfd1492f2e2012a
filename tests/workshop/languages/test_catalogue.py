"""What is marked is gathered whole, and the pseudo-languages keep what is filled in."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from io import StringIO
from pathlib import Path

import pytest
from babel.messages.catalog import Catalog
from babel.messages.pofile import read_po
from django.conf import settings as our_settings
from django.core.management import call_command
from django.utils.translation import gettext, ngettext, override
from pytest_django import Settings

from workshop.management.catalogue import ROOT, accented, from_right, gather_sentences
from workshop.pseudo_names import ACCENTED, FROM_RIGHT

pytestmark = pytest.mark.any_database
_CALLS = {"gettext": 1, "gettext_lazy": 1, "gettext_noop": 1, "ngettext": 2, "ngettext_lazy": 2, "npgettext": 3}
_FILLED_IN = re.compile(r"%\(\w+\)[sd]|\{\w+\}|<[^>]+>")


@pytest.fixture(scope="module")
def sentences() -> Catalog:
    return gather_sentences()


def marked_in(path: Path) -> Iterator[tuple[int, list[ast.expr]]]:
    """Each call that marks a sentence, by its line, with what it is given as sentences."""
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in _CALLS:
            yield node.lineno, node.args[: _CALLS[node.func.id]]


def python_files() -> list[Path]:
    files = [path for room in ("specs", "diagnosis", "workshop") for path in sorted((ROOT / room).rglob("*.py"))]
    return [path for path in files if "gettext" in path.read_text()]


def test_every_marked_sentence_is_gathered(sentences: Catalog) -> None:
    """Read a second way: every literal that a marking call is given stands in the catalogue, and none is glued."""
    known = {one for message in sentences for one in ([message.id] if isinstance(message.id, str) else message.id)}
    literals, glued = set(), []
    for path in python_files():
        for line, arguments in marked_in(path):
            for argument in arguments:
                if isinstance(argument, ast.Constant) and isinstance(argument.value, str):
                    literals.add(argument.value)
                elif isinstance(argument, ast.JoinedStr | ast.BinOp):
                    glued.append(f"{path.name}:{line}")
    contexts = {message.context for message in sentences}
    assert len(literals) > 150
    assert literals - known - contexts == set()
    assert glued == []


def test_templates_are_gathered_with_plurals_contexts_and_filters(sentences: Catalog) -> None:
    plural = "<strong>%(lines)s line without a price.</strong> We will tell you the price before we order or fit it."
    assert isinstance(sentences[plural].id, tuple)
    assert sentences.get("Net", context="sum") is not None
    assert sentences.get("price not known yet") is not None  # given to a filter
    assert sentences.get("Brought in") is not None  # given to a tag of ours
    assert ("templates/portal/stop.html", 5) not in sentences["Stop reminders?"].locations
    assert any(name == "templates/portal/stop.html" for name, _ in sentences["Stop reminders?"].locations)


def test_no_template_of_a_customer_has_words_between_its_tags() -> None:
    """Read without rendering, so that a branch that no test goes into is looked at, too."""
    unmarked = []
    for path in templates_of_customers():
        text = re.sub(r"{#.*?#}|{% block area %}\w+", " ", path.read_text(), flags=re.DOTALL)
        text = re.sub(r"{% blocktranslate.*?{% endblocktranslate %}", " ", text, flags=re.DOTALL)
        text = re.sub(r"""\|default:(["']).*?\1""", lambda found: f" {found[0]} ", text)
        said = re.findall(r"""\|default:["']([^"']*)["']""", text)
        shown = re.sub(r"{%.*?%}|{{.*?}}", " ", text, flags=re.DOTALL)
        said += re.findall(r"""(?:alt|title|aria-label|placeholder)="([^"]*)\"""", shown)
        said.append(re.sub(r"<[^>]*>", " ", shown))
        unmarked += [f"{path.name}: {word}" for one in said for word in re.findall(r"[A-Za-z]{2,}", one)]
    assert unmarked == []


# These are read by the shop's people or its suppliers.
_OF_THE_SHOP = {
    "_spring_of_sheet.html", "_signatures.html", "_ticket_documents.html", "_ticket_link.html", "label.html",
    "label_sheet.html", "link_made.html", "purchase_list.html", "work_order.html",
}  # fmt: skip


def templates_of_customers() -> list[Path]:
    of_rooms = [path for room in ("documents", "portal") for path in sorted((ROOT / "templates" / room).glob("*.html"))]
    shared = [ROOT / "templates/components" / f"{name}.html" for name in ("field", "form_errors", "messages")]
    return [path for path in [*of_rooms, *shared] if path.name not in _OF_THE_SHOP]


@pytest.mark.parametrize("said", [accented, from_right])
@pytest.mark.parametrize(
    "sentence",
    ["Ticket %(number)s", "<strong>You agreed</strong> on %(at)s, 5 %%", "Dear {customer},\n\nyour {unit}", "Net"],
)
def test_what_is_filled_in_stays_and_the_sentence_is_longer_and_in_brackets(sentence: str, said: object) -> None:
    assert callable(said)
    made = said(sentence)
    assert sorted(_FILLED_IN.findall(made)) == sorted(_FILLED_IN.findall(sentence))
    assert made.count("%") == sentence.count("%")
    assert (made[0], made[-1]) == ("[", "]")
    assert len(made) >= 1.4 * len(sentence)
    left = _FILLED_IN.sub(" ", made)
    assert not [word for word in re.findall(r"[^\W\d_]{2,}", left) if word.isascii()]


@pytest.mark.usefixtures("pseudo")
def test_django_speaks_them_with_plurals_and_days() -> None:
    with override(ACCENTED):
        assert gettext("Estimate").startswith("[É")
        assert gettext("Monday") != "Monday"
        one, two = (ngettext("%(files)s more file could not be counted.", "", number) for number in (1, 2))
        assert one != two
    with override(FROM_RIGHT):
        assert "\N{RIGHT-TO-LEFT OVERRIDE}" in gettext("Estimate")
    assert gettext("Estimate") == "Estimate"


def test_a_contributor_makes_them_with_a_command(settings: Settings, tmp_path: Path) -> None:
    settings.DATA_DIR = tmp_path
    said = StringIO()
    call_command("make_pseudo", stdout=said)
    assert (tmp_path / "pseudo-language/en_XA/LC_MESSAGES/django.mo").is_file()
    assert (tmp_path / "pseudo-language/ar_XB/LC_MESSAGES/django.mo").is_file()
    assert "sentences, twice" in said.getvalue()
    call_command("make_pseudo", template=tmp_path / "sentences.pot", stdout=said)
    with (tmp_path / "sentences.pot").open("rb") as file:
        read = read_po(file)
    assert {message.id for message in read} == {message.id for message in gather_sentences()}
    assert [code for code, _ in our_settings.LANGUAGES] == ["en-gb"], "none is shipped, and none is on in a shop"
