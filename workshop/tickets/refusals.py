"""What every refused move of a ticket is, so that a screen which answers these answers all that its rules raise."""

from __future__ import annotations

from django.core.exceptions import ValidationError

from workshop.web.versions import StaleVersion


class UnlawfulMove(ValueError):
    """That a ticket cannot go there from here; the message says what it can do instead."""


MOVE_REFUSED = (UnlawfulMove, ValidationError, StaleVersion)


def refusal_words(refused: Exception) -> str:
    """What a refusal says, as a sentence or several."""
    return " ".join(refused.messages) if isinstance(refused, ValidationError) else str(refused)
