"""What people read, found in the files that say it: templates, Python, scripts and checklists, each with its line."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import yaml

ROOT = Path(__file__).parents[1]
_ROOMS = ("specs", "diagnosis", "workshop")
_SEEN_ATTRIBUTES = ("aria-label", "title", "placeholder", "alt", "label", "content", "data-label", "data-confirm")
# A dictionary in these calls, or an argument of them, is for the machine.
_FOR_THE_MACHINE = {
    "compile", "getLogger", "reverse", "redirect", "path", "include", "execute", "RunSQL", "F", "Q", "OuterRef",
    "only", "defer", "values", "values_list", "filter", "exclude", "order_by", "select_related", "prefetch_related",
    "getattr", "setattr", "hasattr", "encode", "decode", "strptime", "RegexValidator", "import_string", "TypeVar",
    "cast", "NewType", "environ", "getenv", "debug", "partition", "removeprefix", "startswith", "endswith", "sub",
    "findall", "match", "fullmatch", "search",
}  # fmt: skip
_SQL = re.compile(
    r"\s*(--|SELECT|INSERT|UPDATE [a-z_]+|DELETE|CREATE|DROP (TRIGGER|TABLE|INDEX|FUNCTION|EXTENSION)|ALTER|WITH "
    r"|PRAGMA|BEGIN|WHERE|FROM|JOIN|UNION|EXISTS|COALESCE|CASE|LOCK|VACUUM|ANALYZE)\b"
)
_A_WORD = re.compile(r"[A-Z][a-z]+|[^\W\d_]+[ ’-][^\W\d_]|¤ [^\W\d_]{2}|[^\W\d_]{2} ¤")
_TAG_STRING = re.compile(r"""(["'])(.*?)\1""")


@dataclass(frozen=True)
class Said:
    """A text and where it starts."""

    path: str
    line: int
    text: str

    def __str__(self) -> str:
        return f"{self.path}:{self.line}: {self.text}"


def everything_said() -> Iterator[Said]:
    """All that people read, in the order of the files."""
    for path in sorted((ROOT / "templates").rglob("*")):
        if path.suffix in {".html", ".svg", ".txt"}:
            yield from _at(path, in_template(path.read_text()))
    for room in _ROOMS:
        for path in sorted((ROOT / room).rglob("*.py")):
            if not {"migrations", "__pycache__"} & set(path.parts):
                yield from _at(path, in_python(path.read_text()))
    for path in sorted((ROOT / "static/js").rglob("*.js")):
        yield from _at(path, in_script(path.read_text()))
    for path in sorted((ROOT / "fixtures/checklists").rglob("*.yaml")):
        yield from _at(path, in_checklist(path.read_text()))


def _at(path: Path, found: Iterator[tuple[int, str]]) -> Iterator[Said]:
    name = path.relative_to(ROOT).as_posix()
    for line, text in found:
        yield Said(name, line, text)


def _blank(found: re.Match[str]) -> str:
    return "\n" * found[0].count("\n")


def in_template(text: str) -> Iterator[tuple[int, str]]:
    """What stands between tags, in attributes that are read, and in strings given to a partial or a filter."""
    text = re.sub(r"{#.*?#}|{% comment %}.*?{% endcomment %}|<(script|style)\b.*?</\1>", _blank, text, flags=re.DOTALL)
    for tag in re.finditer(r"{%(.*?)%}|{{(.*?)}}", text, re.DOTALL):
        if re.match(r"{%-?\s*(url|static|load|extends|querystring|block|endblock|partial)", tag[0]):
            continue
        for string in _TAG_STRING.finditer(tag[0]):
            if _A_WORD.search(string[2]):
                yield _line(text, tag.start() + string.start()), string[2]
    plain = re.sub(r"{%.*?%}|{{.*?}}", lambda tag: "¤" + _blank(tag), text, flags=re.DOTALL)
    for attribute in re.finditer(rf"""\s({"|".join(_SEEN_ATTRIBUTES)})="([^"]*)\"""", plain):
        yield _line(plain, attribute.start()), _squeezed(attribute[2])
    for piece in re.finditer(r"(?:^|>)([^<]+)", plain):
        words = _squeezed(piece[1])
        if re.search(r"[^\W\d_]", words):
            start = piece.start(1) + len(piece[1]) - len(piece[1].lstrip())
            yield _line(plain, start), words


def _line(text: str, place: int) -> int:
    return text.count("\n", 0, place) + 1


def _squeezed(text: str) -> str:
    return " ".join(text.split())


def in_python(text: str) -> Iterator[tuple[int, str]]:
    """Strings with words in them, but for docstrings, keys, addresses, statements of a database and patterns.

    A text has a capital letter that begins a word, or words parted by a blank; a key has neither.
    """
    tree = ast.parse(text)
    left_out = _docstrings(tree)
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and _called(node) in _FOR_THE_MACHINE:
            left_out |= {id(inner) for inner in ast.walk(node)}
        if isinstance(node, ast.Raise) and isinstance(node.exc, ast.Call) and _called(node.exc) in _NEVER_SHOWN:
            left_out |= {id(inner) for inner in ast.walk(node)}
        if isinstance(node, ast.Subscript):
            left_out |= {id(inner) for inner in ast.walk(node.slice)}
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            left_out |= {id(part) for part in node.values if isinstance(part, ast.Constant)}
            yield from _worded(node.lineno, _of_pieces(node))
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in left_out:
            yield from _worded(node.lineno, node.value)


_NEVER_SHOWN = {"AssertionError", "NotImplementedError", "RuntimeError", "TypeError", "KeyError"}


def _of_pieces(node: ast.JoinedStr) -> str:
    return "".join(
        part.value if isinstance(part, ast.Constant) and isinstance(part.value, str) else "¤" for part in node.values
    )


def _worded(line: int, text: str) -> Iterator[tuple[int, str]]:
    if _A_WORD.search(text) and not _SQL.match(text) and "__" not in text:
        yield line, _squeezed(text)


def _called(node: ast.Call) -> str:
    if isinstance(node.func, ast.Attribute):
        return node.func.attr
    return node.func.id if isinstance(node.func, ast.Name) else ""


def _docstrings(tree: ast.Module) -> set[int]:
    """Every string that is a statement, and what annotations say."""
    found = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    for node in ast.walk(tree):
        for said in (getattr(node, "annotation", None), getattr(node, "returns", None)):
            if isinstance(said, ast.AST):
                found |= {id(inner) for inner in ast.walk(said)}
    return found


def in_script(text: str) -> Iterator[tuple[int, str]]:
    """Strings of a script with a blank and a capital letter, or a blank between words."""
    text = re.sub(r"/\*.*?\*/", _blank, text, flags=re.DOTALL)
    for number, line in enumerate(text.splitlines(), start=1):
        code = re.sub(r"(^|\s)//.*", "", line)
        for string in re.finditer(r'"([^"\\]*(?:\\.[^"\\]*)*)"|`([^`]*)`', code):
            words = string[1] or string[2] or ""
            if _A_WORD.search(words) and not re.match(r"[.#\[\w-]*[\[.#>:]", words.strip()):
                yield number, words


_NO_TEXT = {"key", "use", "needs", "only_if", "when", "shows", "quantity", "measures", "id"}


def in_checklist(text: str) -> Iterator[tuple[int, str]]:
    """Values of a checklist's file that are no keys."""

    def walk(node: yaml.Node) -> Iterator[tuple[int, str]]:
        if isinstance(node, yaml.ScalarNode):
            if _A_WORD.search(node.value):
                yield node.start_mark.line + 1, _squeezed(node.value)
        elif isinstance(node, yaml.SequenceNode):
            for one in node.value:
                yield from walk(one)
        elif isinstance(node, yaml.MappingNode):
            for key, value in node.value:
                if key.value not in _NO_TEXT:
                    yield from walk(value)

    whole = yaml.compose(text)
    if whole is not None:
        yield from walk(whole)
