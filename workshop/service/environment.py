"""A file of settings as systemd's EnvironmentFile: read for commands beside the service, and one value changed."""

from __future__ import annotations

import re

_NAME = re.compile(r"[A-Za-z_][A-Za-z0-9_]*", re.ASCII)


def settings_in(text: str) -> dict[str, str]:
    """Names and values, a line each (systemd.exec(5), EnvironmentFile): comments begin with # or ;, a value may stand
    in quotes, and nothing in it is expanded. Raises ValueError for a line that is none of it.
    """
    found = {}
    for number, line in enumerate(text.splitlines(), 1):
        plain = line.strip()
        if not plain or plain[0] in "#;":
            continue
        name, equals, value = plain.partition("=")
        name = name.strip()
        if not equals or not _NAME.fullmatch(name):
            raise ValueError(f"line {number} is not NAME=value")
        found[name] = _unquoted(value.strip(), number)
    return found


def _unquoted(value: str, number: int) -> str:
    quote = value[:1]
    if quote not in {"'", '"'}:
        return re.sub(r"\\(.)", r"\1", value)
    if len(value) < 2 or value[-1] != quote:
        raise ValueError(f"line {number} has a quote that does not end")
    inner = value[1:-1]
    return inner if quote == "'" else re.sub(r'\\(["\\`$])', r"\1", inner)


def with_setting(text: str, name: str, value: str) -> str:
    """The file with another value of a setting: in its own line where it has one, else in a new one at the end.

    The value is plain: without quotes, backslashes or spaces around it.
    """
    lines = text.splitlines()
    places = [at for at, line in enumerate(lines) if line.strip().partition("=")[0].strip() == name]
    if not places:
        return "\n".join([*lines, f"{name}={value}", ""])
    lines[places[-1]] = f"{name}={value}"  # of several the last one counts
    return "\n".join([*lines, ""])
