"""Reading fields out of a YAML mapping, each refused with its place and reason when it does not fit."""

from __future__ import annotations

import math
import re
from collections.abc import Hashable, Mapping
from typing import Any

import yaml

from diagnosis.layout_plans import LayoutError

_KEY = re.compile(r"[a-z0-9][a-z0-9_-]{0,59}")


class _StrictLoader(yaml.SafeLoader):
    """Safe YAML that refuses what plain YAML lets pass: a key given twice, and anchors."""

    def compose_node(self, parent: yaml.nodes.Node | None, index: int) -> yaml.nodes.Node | None:
        if self.check_event(yaml.events.AliasEvent):
            # A few nested aliases in an uploaded file can unfold into gigabytes.
            raise yaml.constructor.ConstructorError(None, None, "anchors and aliases are not used here")
        node: yaml.nodes.Node | None = super().compose_node(parent, index)
        return node

    def construct_mapping(self, node: yaml.nodes.MappingNode, deep: bool = False) -> dict[Hashable, Any]:
        seen: set[str] = set()
        for key_node, _ in node.value:
            if not isinstance(key_node, yaml.nodes.ScalarNode):
                raise yaml.constructor.ConstructorError(None, None, "a field's name must be plain text")
            if key_node.value in seen:
                line = key_node.start_mark.line + 1
                raise yaml.constructor.ConstructorError(None, None, f"duplicate key {key_node.value!r} in line {line}")
            seen.add(key_node.value)
        return super().construct_mapping(node, deep)


def read_yaml(file: str, text: str) -> Fields:
    """The mapping a file holds; LayoutError if it is no YAML, holds a key twice or is no mapping."""
    try:
        raw = yaml.load(text, Loader=_StrictLoader)  # noqa: S506 - a subclass of the safe loader
    except (yaml.YAMLError, RecursionError) as error:
        reason = getattr(error, "problem", None) or "cannot be read as YAML"
        mark = getattr(error, "problem_mark", None)
        where = f" (line {mark.line + 1})" if mark else ""
        raise LayoutError(file, "", f"{reason}{where}") from error
    if not isinstance(raw, Mapping):
        raise LayoutError(file, "", "must be a mapping of fields")
    return Fields(raw, file=file)


class Fields:
    """The fields of one mapping. Ask for each by name, then call `no_others()` to refuse the unknown ones."""

    def __init__(self, raw: Mapping[Any, Any], *, file: str, step: str = "", inside: str = "") -> None:
        self.raw, self.file, self.step, self.inside = raw, file, step, inside
        self._asked: set[str] = set()

    def refuse(self, reason: str) -> LayoutError:
        """The error to raise here, with the place in front of the reason."""
        return LayoutError(self.file, self.step, f"{self.inside}: {reason}" if self.inside else reason)

    def no_others(self) -> None:
        """Refuse fields that nobody asked for, so that a slip of the pen is not silently ignored."""
        for name in self.raw:
            if name not in self._asked:
                raise self.refuse(f"unknown field {name!r}")

    def has(self, name: str) -> bool:
        """Whether the field is there, null counting as absent."""
        self._asked.add(name)
        return self.raw.get(name) is not None

    def text(self, name: str, *, required: bool = True, longest: int = 2000) -> str:
        """A text without surrounding blanks; "" if absent or empty and not required."""
        if not self.has(name) or (not required and self.raw[name] == ""):
            if required:
                raise self.refuse(f"field {name!r} is missing")
            return ""
        value = self.raw[name]
        if not isinstance(value, str) or not value.strip():
            raise self.refuse(f"field {name!r} must be text, not {value!r}")
        if len(value.strip()) > longest:
            raise self.refuse(f"field {name!r} is longer than {longest} characters")
        return value.strip()

    def key(self, name: str, *, required: bool = True) -> str:
        """A key: lower-case letters, digits, hyphen and underscore, at most 60."""
        value = self.text(name, required=required)
        if value and not _KEY.fullmatch(value):
            raise self.refuse(f"{name} {value!r} must be lower-case letters, digits, - and _, at most 60")
        return value

    def choice(self, name: str, allowed: tuple[str, ...]) -> str:
        """One of the allowed texts."""
        value = self.text(name)
        if value not in allowed:
            raise self.refuse(f"{name} {value!r} is none of {', '.join(allowed)}")
        return value

    def flag(self, name: str, *, required: bool = False) -> bool:
        """true or false; false if absent and not required."""
        if not self.has(name):
            if required:
                raise self.refuse(f"field {name!r} is missing")
            return False
        value = self.raw[name]
        if not isinstance(value, bool):
            raise self.refuse(f"field {name!r} must be true or false, not {value!r}")
        return value

    def number(self, name: str) -> float:
        """A finite number, not negative."""
        if not self.has(name):
            raise self.refuse(f"field {name!r} is missing")
        return self.as_number(name, self.raw[name])

    def as_number(self, name: str, value: object) -> float:
        """The value as a finite number, not negative; refused under that name otherwise."""
        if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value) or value < 0:
            raise self.refuse(f"{name} must be a number and not negative, not {value!r}")
        return float(value)

    def items(self, name: str, *, required: bool = False) -> list[Any]:
        """A list; empty if absent and not required."""
        if not self.has(name):
            if required:
                raise self.refuse(f"field {name!r} is missing")
            return []
        value = self.raw[name]
        if not isinstance(value, list) or (required and not value):
            raise self.refuse(f"field {name!r} must be a list" + (" with something in it" if required else ""))
        return value

    def texts(self, name: str, *, required: bool = False) -> tuple[str, ...]:
        """A list of texts."""
        values = self.items(name, required=required)
        for value in values:
            if not isinstance(value, str) or not value.strip():
                raise self.refuse(f"{name} must hold texts only, not {value!r}; put a text with a colon in quotes")
        return tuple(value.strip() for value in values)

    def group(self, name: str, *, required: bool = False) -> Fields:
        """The mapping under a name; an empty one if absent and not required."""
        if not self.has(name):
            if required:
                raise self.refuse(f"field {name!r} is missing")
            return self.within(name, {})
        return self.within(name, self.raw[name])

    def groups(self, name: str, *, required: bool = False) -> list[Fields]:
        """The mappings in the list under a name."""
        return [self.within(name, value) for value in self.items(name, required=required)]

    def within(self, name: str, value: object) -> Fields:
        """The value, which must be a mapping, as fields that know they are inside `name`."""
        if not isinstance(value, Mapping):
            raise self.refuse(f"{name} must be a mapping of fields, not {value!r}")
        inside = f"{self.inside}, {name}" if self.inside else name
        return Fields(value, file=self.file, step=self.step, inside=inside)
