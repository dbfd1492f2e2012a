"""Text folded for finding: without accents, case or blanks that differ, and with plain letters for odd ones."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping

# Letters that Unicode does not take apart into a plain one and a mark, in lower case: what people type for them.
# As in PostgreSQL's unaccent.rules; ß is taken apart by casefold.
PLAIN_LETTERS: Mapping[str, str] = {
    "ø": "o", "ł": "l", "đ": "d", "ð": "d", "æ": "ae", "œ": "oe", "þ": "th", "ħ": "h", "ı": "i", "ŋ": "n", "ŧ": "t",
    "ĸ": "q", "’": "'", "‘": "'", "ʼ": "'",
}  # fmt: skip
_PLAIN = str.maketrans(dict(PLAIN_LETTERS))


def fold(*texts: str) -> str:
    """Fold texts into one line to search in: “Novák”, “novak” and “NOVÁK ” become the same, and so do “Sørlund” and
    “sorlund”.
    """
    joined = " ".join(text for text in texts if text)
    plain = "".join(c for c in unicodedata.normalize("NFKD", joined) if not unicodedata.combining(c))
    return re.sub(r"\s+", " ", plain.casefold().translate(_PLAIN)).strip()


def digits(text: str) -> str:
    """Only the digits, so that a phone number is found however it was spaced."""
    return re.sub(r"\D", "", text)
