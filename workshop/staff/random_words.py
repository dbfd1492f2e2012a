"""Passwords and codes that a machine makes and a person copies from paper."""

from __future__ import annotations

import secrets

# Without letters and digits that are mistaken for each other on a slip of paper.
_ALPHABET = "abcdefghjkmnpqrstuvwxyz23456789"


def make_password() -> str:
    """Four groups of four, easy to read out: some 79 random bits."""
    return "-".join("".join(secrets.choice(_ALPHABET) for _ in range(4)) for _ in range(4))
