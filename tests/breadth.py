"""How broadly tests look: little in the usual run, far with HYPOTHESIS_PROFILE=thorough; some a part each day."""

from __future__ import annotations

import os

import hypothesis

from tests.known import known

THOROUGH = 20  # times as many as in the usual run


def day() -> int:
    """Which part is looked at today of what is looked at in parts; DAY_OF_TESTS has another day's again."""
    return int(os.environ["DAY_OF_TESTS"])


def examples(usual: int) -> int:
    """How many examples a test makes up whose number is its own, since each takes long or shows little."""
    return usual * (THOROUGH if known(hypothesis.settings.default).max_examples >= 2000 else 1)
