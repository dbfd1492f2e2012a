"""What every refused move of a ticket is, so that a screen which answers this one answers them all."""

from __future__ import annotations


class UnlawfulMove(ValueError):
    """That a ticket cannot go there from here; the message says what it can do instead."""
