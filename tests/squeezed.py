"""HTML without the white space that a browser does not show beside a tag, to look for words in it."""

from __future__ import annotations

import re


def squeezed(html: str) -> str:
    """Runs of white space are one blank, and none stands beside a tag: templates break their lines where they like."""
    return re.sub(r"\s*([<>])\s*", r"\1", re.sub(r"\s+", " ", html))
