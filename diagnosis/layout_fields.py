"""Reading fields out of a YAML mapping, each refused with its place and reason when it does not fit."""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Callable, Hashable, Iterable, Mapping
from types import TracebackType
from typing import Any, Concatenate, ParamSpec, TypeVar

import yaml

from diagnosis.layout_plans import MOST_PROBLEMS, LayoutError, one_error

_T = TypeVar("_T")
_P = ParamSpec("_P")

_KEY = re.compile(r"[a-z0-9][a-z0-9_-]{0,59}")
_NO_SIGNS = ("Cc", "Cs", "Cn")  # each of them is told by isprintable() too, which is quick
_BLANKS = re.compile(r"[ \t\r\n]+")
_DEEPEST = 20  # levels of brackets; the layout itself has eight

# libyaml reads ten times as fast; where it is missing, the same in Python.
_SafeLoader: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)


class _StrictLoader(_SafeLoader):  # type: ignore[misc]
    """Safe YAML that refuses what plain YAML lets pass: a key given twice."""

    def construct_mapping(self, node: yaml.nodes.MappingNode, deep: bool = False) -> dict[Hashable, Any]:
        seen: set[str] = set()
        for key_node, _ in node.value:
            if not isinstance(key_node, yaml.nodes.ScalarNode):
                raise yaml.constructor.ConstructorError(None, None, "a field’s name must be plain text")
            if key_node.value in seen:
                line = key_node.start_mark.line + 1
                raise yaml.constructor.ConstructorError(None, None, f"duplicate key {key_node.value!r} in line {line}")
            seen.add(key_node.value)
        found: dict[Hashable, Any] = super().construct_mapping(node, deep)
        return found


def read_yaml(file: str, text: str) -> Fields:
    """The mapping a file holds; LayoutError if it is no YAML, holds a key twice or is no mapping."""
    try:
        _refuse_hostile(text)
        raw = yaml.load(text, Loader=_StrictLoader)  # noqa: S506 - a subclass of the safe loader
    except (yaml.YAMLError, RecursionError, ValueError, OverflowError, TypeError) as error:
        # Not all are YAML's own: a date that is none, or a number of thousands of digits, is a ValueError.
        reason = getattr(error, "problem", None) or "cannot be read as YAML"
        mark = getattr(error, "problem_mark", None)
        where = f" (line {mark.line + 1})" if mark else ""
        raise LayoutError(file, "", f"{reason}{where}") from error
    if not isinstance(raw, Mapping):
        raise LayoutError(file, "", "must be a mapping of fields")
    return Fields(raw, file=file)


def _refuse_hostile(text: str) -> None:
    """Look at the events alone, before anything is built: a few nested aliases can unfold into gigabytes."""
    depth = 0
    for event in yaml.parse(text, Loader=_SafeLoader):
        reason = ""
        if isinstance(event, yaml.AliasEvent) or getattr(event, "anchor", None):
            reason = "anchors and aliases are not used here"
        elif getattr(event, "tag", None):
            reason = "tags are not used here"
        elif isinstance(event, yaml.CollectionStartEvent):
            depth += 1
            reason = "brackets or lists are nested too deeply" if depth > _DEEPEST else ""
        elif isinstance(event, yaml.CollectionEndEvent):
            depth -= 1
        if reason:
            raise yaml.constructor.ConstructorError(None, None, f"{reason} (line {_line(event)})")


def _line(event: yaml.Event) -> int:
    return event.start_mark.line + 1 if event.start_mark else 1


def _noted(stand_in: _T) -> Callable[[Callable[Concatenate[Fields, _P], _T]], Callable[Concatenate[Fields, _P], _T]]:
    """For a method that reads one field: what it refuses is noted, and the stand-in given instead."""

    def wrap(method: Callable[Concatenate[Fields, _P], _T]) -> Callable[Concatenate[Fields, _P], _T]:
        def noting(fields: Fields, /, *args: _P.args, **kwargs: _P.kwargs) -> _T:
            try:
                return method(fields, *args, **kwargs)
            except LayoutError as error:
                fields.note(error)
                return stand_in

        noting.__doc__ = method.__doc__
        return noting

    return wrap


class _Noting:
    """A block in which a refusal is noted, and what comes after the block is still looked at."""

    def __init__(self, fields: Fields) -> None:
        self.fields = fields

    def __enter__(self) -> None:
        return None

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> bool:
        if not isinstance(error, LayoutError):
            return False
        self.fields.note(error)
        return True


class Fields:
    """The fields of one mapping. Ask for each by name, then call `done()`, which refuses all that does not fit.

    A field that does not fit is noted, and a stand-in given for it, so that the rest is looked at too: an empty text,
    list or mapping, false, 1 for a number. What was made of stand-ins never leaves the reader, as `done()` raises.

    `path` is where the mapping lies in its step or file, such as ("answers", "found"); errors carry it, so that a
    screen can put the reason beside the field.
    """

    def __init__(
        self, raw: Mapping[Any, Any], *, file: str, step: str = "", inside: str = "", path: tuple[str, ...] = ()
    ) -> None:
        self.raw, self.file, self.step, self.inside, self.path = raw, file, step, inside, path
        self.problems: list[LayoutError] = []
        self._asked: set[str] = set()
        self._last = ""

    def refuse(self, reason: str, field: str | None = None, *, beside: str = "") -> LayoutError:
        """The error to raise here, the place in front of the reason; `field` is the one asked last if not given."""
        name = self._last if field is None else field
        where = ".".join((*self.path, name)) if name else ".".join(self.path)
        said = f"{self.inside}: {reason}" if self.inside else reason
        return LayoutError(self.file, self.step, said, field=where, beside=beside)

    def note(self, error: LayoutError) -> None:
        """Keep what is wrong until the end; where that is more than is ever told, end here."""
        self.problems += error.all
        if len(self.problems) > MOST_PROBLEMS:
            self.settle()

    def noting(self) -> _Noting:
        """For a `with` block, in which a LayoutError is noted."""
        return _Noting(self)

    def settle(self) -> None:
        """Raise all that was noted as one LayoutError."""
        if self.problems:
            raise one_error(self.problems)

    def done(self) -> None:
        """Refuse fields that nobody asked for, so that no slip of the pen is passed over, and all that was noted."""
        for name in self.raw:
            if name not in self._asked:
                self.note(self.refuse(f"unknown field {name!r}", str(name)))
        self.settle()

    def has(self, name: str) -> bool:
        """Whether the field is there, null counting as absent."""
        self._asked.add(name)
        self._last = name
        return self.raw.get(name) is not None

    def missing(self, name: str) -> LayoutError:
        return self.refuse(f"field {name!r} is missing", name, beside="Enter this.")

    @_noted("")
    def text(self, name: str, *, required: bool = True, longest: int = 2000) -> str:
        """A text on one line, without surrounding blanks; "" if absent or empty and not required."""
        return self._text(name, required, longest)

    def _text(self, name: str, required: bool = True, longest: int = 2000) -> str:
        if not self.has(name) or (not required and self.raw[name] == ""):
            if required:
                raise self.missing(name)
            return ""
        return self._one_line(name, self.raw[name], longest, f"field {name!r} must be text, not {self.raw[name]!r}")

    def _one_line(self, name: str, value: object, longest: int, reason: str) -> str:
        if not isinstance(value, str) or not value.strip():
            raise self.refuse(reason, name, beside="Enter this.")
        text = _BLANKS.sub(" ", value).strip()
        if not text or (not text.isprintable() and any(unicodedata.category(sign) in _NO_SIGNS for sign in text)):
            raise self.refuse(f"field {name!r} holds a sign that cannot be printed", name)
        if len(text) > longest:
            raise self.refuse(
                f"field {name!r} is longer than {longest} characters", name, beside=f"{longest} characters at most."
            )
        return text

    @_noted("")
    def key(self, name: str, *, required: bool = True) -> str:
        """A key: lower-case letters, digits, hyphen and underscore, at most 60."""
        value = self._text(name, required)
        if value and not _KEY.fullmatch(value):
            raise self.refuse(f"{name} {value!r} must be lower-case letters, digits, - and _, at most 60")
        return value

    @_noted("")
    def choice(self, name: str, allowed: tuple[str, ...]) -> str:
        """One of the allowed texts."""
        value = self._text(name)
        if value not in allowed:
            raise self.refuse(f"{name} {value!r} is none of {', '.join(allowed)}")
        return value

    @_noted("")
    def one_of(self, name: str, allowed: Iterable[str]) -> str:
        """One of the allowed texts, or "" where nothing is said."""
        value = self._text(name, required=False)
        if value and value not in allowed:
            raise self.refuse(f"{name} {value!r} is none of {', '.join(allowed)}")
        return value

    @_noted(False)
    def flag(self, name: str, *, required: bool = False) -> bool:
        """true or false; false if absent and not required."""
        if not self.has(name):
            if required:
                raise self.missing(name)
            return False
        value = self.raw[name]
        if not isinstance(value, bool):
            raise self.refuse(f"field {name!r} must be true or false, not {value!r}")
        return value

    @_noted(1.0)
    def number(self, name: str) -> float:
        """A finite number, not negative."""
        if not self.has(name):
            raise self.missing(name)
        return self.as_number(name, self.raw[name])

    def as_number(self, name: str, value: object, field: str | None = None) -> float:
        """The value as a finite number, not negative; refused under that name otherwise."""
        try:
            fits = not isinstance(value, bool) and isinstance(value, int | float) and 0 <= float(value) < math.inf
        except OverflowError:
            fits = False
        if not fits:
            raise self.refuse(
                f"{name} must be a number and not negative, not {value!r}", field, beside="Enter a number, 0 or more."
            )
        return float(value)  # type: ignore[arg-type]

    def items(self, name: str, *, required: bool = False) -> list[Any]:
        """A list; empty if absent and not required."""
        with self.noting():
            return self._items(name, required)
        return []

    def _items(self, name: str, required: bool) -> list[Any]:
        if not self.has(name):
            if required:
                raise self.missing(name)
            return []
        value = self.raw[name]
        if not isinstance(value, list) or (required and not value):
            raise self.refuse(
                f"field {name!r} must be a list" + (" with something in it" if required else ""), name,
                beside="Enter this." if required else "",
            )  # fmt: skip
        return value

    def texts(self, name: str, *, required: bool = False) -> tuple[str, ...]:
        """A list of texts, each on one line."""
        said = "{} must hold texts only, not {!r}; put a text with a colon in quotes"
        found = []
        for value in self.items(name, required=required):
            with self.noting():
                found.append(self._one_line(name, value, 2000, said.format(name, value)))
        return tuple(found)

    def read(self, name: str, reader: Callable[[Fields], _T], instead: _T, *, required: bool = False) -> _T:
        """What `reader` makes of the mapping under a name; `instead` if it is absent or does not fit."""
        with self.noting():
            if self.has(name):
                return reader(self.within(name, self.raw[name]))
            if required:
                raise self.missing(name)
        return instead

    def each(self, name: str, reader: Callable[[Fields], _T]) -> tuple[_T, ...]:
        """What `reader` makes of each mapping in the list under a name, without those that do not fit."""
        found = []
        for place, value in enumerate(self.items(name)):
            with self.noting():
                found.append(reader(self.within(name, value, place)))
        return tuple(found)

    def within(self, name: str, value: object, place: int | None = None) -> Fields:
        """The value, which must be a mapping, as fields that know they are inside `name`, at a place of a list."""
        if not isinstance(value, Mapping):
            where = name if place is None else f"{name}.{place}"
            raise self.refuse(f"{name} must be a mapping of fields, not {value!r}", where)
        inside = f"{self.inside}, {name}" if self.inside else name
        path = (*self.path, name) if place is None else (*self.path, name, str(place))
        return Fields(value, file=self.file, step=self.step, inside=inside, path=path)
