"""Taking a person out of free text that the workshop keeps. No Django."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from typing import Any

ERASED = "[erased]"
_SHORTEST_NAME = 3
# Whose fields of a printed document are the person's.
_PERSONAL_KEYS = frozenset({"customer", "complaint_words", "notes"})


def scrubber(
    *, name: str, phone: str = "", email: str = "", address: str = "", also: str = "", phones: Sequence[str] = ()
) -> Callable[[str], str]:
    """A function that replaces a person's name, its parts, phones, email and address lines in a text.

    `also` is another name of theirs, such as whom to ask for at a company.

    Parts of a name shorter than three letters stay: they are too often part of something else.
    """
    whole = [name, email, *address.splitlines()]
    whole = [*whole, also]
    parts = [part for part in re.split(r"\W+", f"{name} {also}") if len(part) >= _SHORTEST_NAME]
    patterns = [rf"\b{re.escape(text.strip())}\b" for text in whole if len(text.strip()) >= _SHORTEST_NAME]
    patterns += [rf"\b{re.escape(part)}\b" for part in parts]
    for number in (phone, *phones):
        digits = re.sub(r"\D", "", number)
        if len(digits) > 5:
            patterns.append(r"[\s()/+.-]*".join(digits))
    if not patterns:
        return lambda text: text
    found = re.compile("|".join(patterns), re.IGNORECASE)
    return lambda text: found.sub(ERASED, text)


def scrub_data(data: Any, scrub: Callable[[str], str]) -> Any:
    """A printed document's data without the person: their fields emptied, the rest scrubbed."""
    if isinstance(data, str):
        return scrub(data)
    if isinstance(data, Mapping):
        return {
            key: _emptied(value) if key in _PERSONAL_KEYS else scrub_data(value, scrub) for key, value in data.items()
        }
    if isinstance(data, Sequence):
        return [scrub_data(value, scrub) for value in data]
    return data


def scrub_strings(data: Any, scrub: Callable[[str], str]) -> Any:
    """Plain data with every text in it scrubbed, whatever its key; numbers and keys stay as they are."""
    if isinstance(data, str):
        return scrub(data)
    if isinstance(data, Mapping):
        return {key: scrub_strings(value, scrub) for key, value in data.items()}
    return [scrub_strings(value, scrub) for value in data] if isinstance(data, Sequence) else data


def _emptied(value: Any) -> Any:
    return dict.fromkeys(value, "") if isinstance(value, Mapping) else ERASED
