"""What ruff's security rules cannot see: words taken for markup, SQL put together, the network without a limit.

Each check is tried on a planted slip first, so that it can fail.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from django.conf import settings

BASE = Path(settings.BASE_DIR)
pytestmark = pytest.mark.any_database

# Take their text for markup: each says in its file what escaped it.
MAKES_MARKUP = {"workshop/web/form_renderer.py", "workshop/web/icons.py"}
# Put statements together, of the names of tables and columns only; values go beside them.
MAKES_SQL = {
    "workshop/kept/triggers.py",
    "workshop/migrating/functions.py",
    "workshop/migrating/held.py",
    "workshop/running/loading.py",
    "workshop/running/page_check.py",
    "workshop/running/rows.py",
    "workshop/searching/agreeing.py",
    "workshop/searching/candidates.py",
    "workshop/searching/postgresql.py",
    "workshop/searching/sqlite.py",
    "workshop/staff/append_only.py",
}
_MARKUP = {"format_html", "mark_safe", "SafeString", "SafeText", "html_safe"}
_SQL = {"execute", "executemany", "executescript", "raw", "RawSQL", "extra", "RunSQL"}
# Wait for somebody else for ever unless told how long.
_CONNECTS = {"urlopen", "create_connection", "SMTP", "SMTP_SSL", "HTTPConnection", "HTTPSConnection"}


def sources(words: set[str]) -> Iterator[tuple[str, ast.Module]]:
    """The files that speak of any of these."""
    spoken_of = re.compile("|".join(sorted(words)))
    for room in ("specs", "diagnosis", "workshop"):
        for path in sorted((BASE / room).rglob("*.py")):
            if "migrations" not in path.parts and spoken_of.search(text := path.read_text()):
                yield str(path.relative_to(BASE)), ast.parse(text)


def calls(tree: ast.Module) -> Iterator[tuple[str, ast.Call]]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Call):
            name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
            yield str(name), node


def is_plain(node: ast.expr) -> bool:
    """Words that stand in the source, or a name for a constant: nothing is put together here."""
    return isinstance(node, ast.Constant) or (isinstance(node, ast.Name) and node.id.isupper())


def markup(tree: ast.Module) -> list[int]:
    """Lines where something that is no plain text of the source is called markup."""
    return [
        call.lineno for name, call in calls(tree)
        if name in _MARKUP and not all(is_plain(one) for one in (call.args[:1] if name == "format_html" else call.args))
    ]  # fmt: skip


def joined_sql(tree: ast.Module) -> list[int]:
    """Lines where a statement is put together as it is sent."""
    return [
        call.lineno for name, call in calls(tree)
        if name in _SQL and call.args and isinstance(call.args[0], ast.JoinedStr | ast.BinOp | ast.Call)
    ]  # fmt: skip


def without_limit(tree: ast.Module) -> list[int]:
    return [
        call.lineno for name, call in calls(tree)
        if name in _CONNECTS and not any(word.arg in {"timeout", None} for word in call.keywords)
    ]  # fmt: skip


def found_in(check: Callable[[ast.Module], list[int]], words: set[str]) -> dict[str, list[int]]:
    return {path: lines for path, tree in sources(words) if (lines := check(tree))}


@pytest.mark.parametrize(
    ("check", "slip", "sound"),
    [
        (markup, "mark_safe(f'<b>{x}</b>')", "mark_safe('<b>')"),
        (markup, "SafeString(x)", "format_html('<b>{}</b>', x)"),
        (markup, "format_html(f'<b>{x}</b>')", "mark_safe(FRAME)"),
        (joined_sql, "cursor.execute(f'SELECT {x}')", "cursor.execute('SELECT %s', [x])"),
        (joined_sql, "Ticket.objects.raw('SELECT ' + x)", "Ticket.objects.raw(STATEMENT, [x])"),
        (joined_sql, "cursor.execute('SELECT {}'.format(x))", "cursor.execute(statement)"),
        (without_limit, "socket.create_connection((a, 25))", "socket.create_connection((a, 25), timeout=5)"),
        (without_limit, "urlopen(x)", "urlopen(x, timeout=5)"),
    ],
)  # fmt: skip
def test_each_check_sees_its_slip_and_nothing_else(
    check: Callable[[ast.Module], list[int]], slip: str, sound: str
) -> None:
    assert check(ast.parse(slip)) == [1]
    assert check(ast.parse(sound)) == []


def test_nothing_typed_is_called_markup() -> None:
    assert set(found_in(markup, _MARKUP)) == MAKES_MARKUP


def test_no_statement_is_put_together_outside_the_list() -> None:
    assert set(found_in(joined_sql, _SQL)) == MAKES_SQL


def test_nothing_waits_for_another_machine_without_a_limit() -> None:
    assert found_in(without_limit, _CONNECTS) == {}


# A picture of an address, drawn by the library of such pictures.
DRAWN = "{{ qr|safe }}"


def test_no_template_takes_words_for_markup() -> None:
    wrong = re.compile(r"\|\s*safe(seq)?\b|autoescape\s+off|\|\s*escapejs")
    for slip in ("{{ note|safe }}", "{% autoescape off %}", "{{ rows | safeseq }}"):
        assert wrong.search(slip)
    templates = [path for path in (BASE / "templates").rglob("*") if path.is_file()]
    assert len(templates) > 200
    assert [str(path) for path in templates if wrong.search(path.read_text().replace(DRAWN, ""))] == []


def test_no_script_makes_markup_or_code_of_words() -> None:
    wrong = re.compile(
        r"\b(?:outerHTML\s*\+?=(?!=)|insertAdjacentHTML|document\.write|eval|new Function|setTimeout\(\s*[\"'`])"
        r"|innerHTML\s*\+?=(?!=)|__proto__"
    )
    for slip in ("a.innerHTML = x", "eval(x)", "new Function(x)", 'setTimeout("x")'):
        assert wrong.search(slip)
    scripts = sorted((BASE / "static" / "js").glob("*.js"))
    assert len(scripts) > 10
    assert [path.name for path in scripts if wrong.search(path.read_text())] == []


def test_every_exception_from_a_security_rule_says_why() -> None:
    bare = re.compile(r"#\s*noqa:\s*S\d+(?:\s*,\s*\w+)*\s*$", re.MULTILINE)
    assert bare.search("x = 1  # noqa: S101\n")
    files = [path for room in ("specs", "diagnosis", "workshop", ".ci") for path in (BASE / room).rglob("*.py")]
    assert [str(path.relative_to(BASE)) for path in files if bare.search(path.read_text())] == []


def test_the_security_rules_are_on_and_what_is_off_is_said() -> None:
    text = (BASE / "pyproject.toml").read_text()
    assert '"S"' in text.split("select = [")[1].split("]")[0]
    assert not re.search(r'"S\d*"', text.split("ignore = [")[1].split("]")[0])
    off = dict(re.findall(r'^"([^"]+)" = \[(.*?S\d.*?)\] #', text, re.MULTILINE))
    assert set(off) == {"tests/**", ".ci/**"}
