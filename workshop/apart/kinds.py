"""The kinds of work that are done apart: how much each may take, how many wait for it, and what is said beyond that.

Limits of memory and time are common practice, no published source; what was measured stands in README.md. No Django.
"""

from __future__ import annotations

from dataclasses import dataclass

MB = 1 << 20


@dataclass(frozen=True)
class Kind:
    """One kind of work, which has one worker in each process that answers requests.

    Attributes:
        doing: what goes on meanwhile, and `it`, what was given up: both begin a sentence.
        smaller: what to do about a piece that takes too much.
        memory_bytes: what a piece may take beyond what the worker holds when it begins.
        within_s: how long a piece may take.
        pieces: after so many a worker is replaced.
        places: for the piece that is worked on and those that wait; who comes then is told to come again.
        needs: modules the work takes, loaded before there is any.
        early: its worker is begun with the process, since most days want it.
    """

    key: str
    doing: str
    it: str
    smaller: str
    memory_bytes: int
    within_s: float
    pieces: int
    places: int
    needs: tuple[str, ...]
    early: bool = False


PAPERS = Kind(
    key="papers",
    doing="Several papers are being made",
    it="Making this paper",
    smaller="Choose fewer photos for the customer, or tell whoever looks after the shop’s computer.",
    memory_bytes=1024 * MB,
    within_s=60,
    pieces=25,
    places=3,
    needs=("workshop.documents.rendering", "weasyprint"),
    early=True,
)
PICTURES = Kind(
    key="pictures",
    doing="Several pictures are being read",
    it="Reading this picture",
    smaller="Choose a smaller one.",
    memory_bytes=768 * MB,
    within_s=60,
    pieces=50,
    places=3,
    needs=("workshop.tickets.decoding",),
    early=True,
)
SHEETS = Kind(
    key="sheets",
    doing="Several files are being read",
    it="Reading this file",
    smaller="Split it into smaller ones.",
    memory_bytes=768 * MB,
    within_s=60,
    pieces=5,
    places=2,
    needs=("workshop.sheets.pieces", "workshop.sheets.books"),
)
TRACKS = Kind(
    key="tracks",
    doing="Several files are being read",
    it="Reading this file",
    smaller="Send fewer rides at once.",
    memory_bytes=512 * MB,
    within_s=30,
    pieces=10,
    places=2,
    needs=("workshop.intervals.uploads",),
)
KINDS = (PAPERS, PICTURES, SHEETS, TRACKS)
PLACES = sum(kind.places for kind in KINDS)
"""Threads that may wait for work done apart at one time."""
