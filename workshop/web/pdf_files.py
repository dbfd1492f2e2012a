"""A stranger's PDF looked at as bytes: whether it acts by itself, and how many pages it has. Nothing draws it here."""

from __future__ import annotations

import re
import zlib
from collections.abc import Iterator

# Names of ISO 32000 for what acts by itself or carries other files.
_ACTS = re.compile(rb"/(JavaScript|JS|Launch|EmbeddedFiles?|RichMedia|XFA)(?![A-Za-z])")
_PAGE = re.compile(rb"/Type\s*/Page(?![A-Za-z])")
# ISO 32000-1, 7.5.7: objects packed together in a stream, such as the pages of most PDFs since 1.5.
_PACKED = re.compile(rb"/ObjStm\b[^\0]{0,400}?stream\r?\n")
# Packed objects are unfolded up to this, all together, so that no small file becomes a large one.
_MOST_UNFOLDED = 16 * 1024 * 1024


def acts_by_itself(data: bytes) -> bool:
    """Whether a PDF names a script, a program or a file within it, in packed objects too."""
    return any(_ACTS.search(part) for part in _parts(data))


def pdf_pages_of(data: bytes) -> int:
    """How many pages a PDF has; 0 where they cannot be counted, as in one that is encrypted."""
    return sum(len(_PAGE.findall(part)) for part in _parts(data))


def _parts(data: bytes) -> Iterator[bytes]:
    """The bytes themselves, and the objects that are packed in them."""
    yield data
    left = _MOST_UNFOLDED
    for packed in _PACKED.finditer(data):
        try:
            unfolded = zlib.decompressobj().decompress(data[packed.end() :], left)
        except zlib.error:
            continue
        yield unfolded
        left -= len(unfolded)
        if left <= 0:
            return
