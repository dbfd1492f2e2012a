"""Text folded for finding: without accents, case or blanks that differ."""

from __future__ import annotations

import re
import unicodedata


def fold(*texts: str) -> str:
    """Fold texts into one line to search in: “Novák”, “novak” and “NOVÁK ” become the same."""
    joined = " ".join(text for text in texts if text)
    plain = "".join(c for c in unicodedata.normalize("NFKD", joined) if not unicodedata.combining(c))
    return re.sub(r"\s+", " ", plain.casefold()).strip()


def digits(text: str) -> str:
    """Only the digits, so that a phone number is found however it was spaced."""
    return re.sub(r"\D", "", text)
