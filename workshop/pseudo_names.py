"""The languages that nobody speaks: English with accents, and the same from right to left."""

from __future__ import annotations

ACCENTED, FROM_RIGHT = "en-xa", "ar-xb"
PSEUDO_LANGUAGES = [(ACCENTED, "English with accents"), (FROM_RIGHT, "English from right to left")]
