"""A page of a manual as a file of somebody else's, of few pages where it is a PDF."""

from __future__ import annotations

from dataclasses import dataclass
from typing import IO

from django.core.exceptions import ValidationError

from workshop.tickets.attached import PDF, AttachedFile, WhatIsTaken, read_attached, store_attached
from workshop.web.pdf_files import pdf_pages_of

MOST_PAGES = 40


class ManualRefused(ValidationError):
    """That a file is no page of a manual we take; the message says why and what to do."""


@dataclass(frozen=True)
class ManualFile(AttachedFile):
    """The bytes that are kept, what they are, and how many pages they have."""

    pages: int = 1


_ONLY = "Take only the pages with the values out of it."
_TAKEN = WhatIsTaken("page", "A page of a manual", _ONLY, ManualRefused)


def read_manual(file: IO[bytes], *, name: str = "The file") -> ManualFile:
    """Look at an uploaded page.

    Raises:
        ManualRefused: as `read_attached` says; or a PDF whose pages cannot be counted, or with more than MOST_PAGES.
    """
    taken = read_attached(file, name=name, taken=_TAKEN)
    if taken.kind != PDF:
        return ManualFile(taken.data, taken.kind)
    pages = pdf_pages_of(taken.data)
    if not pages:
        raise ManualRefused(f"The pages of {name} cannot be read. Print it to a plain PDF, or take a picture of it.")
    if pages > MOST_PAGES:
        raise ManualRefused(f"{name} has {pages} pages, at most {MOST_PAGES} are kept. {_ONLY}")
    return ManualFile(taken.data, taken.kind, pages)


def store_manual(file: ManualFile) -> str:
    """Keep the bytes; returns their name in the shop's files."""
    return store_attached(file, folder="manuals")
