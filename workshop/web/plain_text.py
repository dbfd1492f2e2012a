"""Text from elsewhere made fit for one line of a message or a header. No Django."""

from __future__ import annotations

_LONGEST_NAME = 60


def one_line(text: str) -> str:
    """Control characters, line breaks and marks that turn the direction of writing become single blanks."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())


def short_name(text: str) -> str:
    """What to call a file in a message, whatever its sender called it."""
    name = one_line(text)
    return name if len(name) <= _LONGEST_NAME else f"{name[: _LONGEST_NAME - 1]}…"
