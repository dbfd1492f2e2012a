"""How broadly a generated test looks: little in the usual run, far with HYPOTHESIS_PROFILE=thorough."""

from __future__ import annotations

import hypothesis

from tests.known import known

THOROUGH = 20  # times as many as in the usual run


def examples(usual: int) -> int:
    """How many examples a test makes up whose number is its own, since each takes long or shows little."""
    return usual * (THOROUGH if known(hypothesis.settings.default).max_examples >= 2000 else 1)
