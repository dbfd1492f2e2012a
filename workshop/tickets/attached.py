"""A file of somebody else’s, attached to a record: a picture is written anew, a PDF looked at and kept as it is."""

from __future__ import annotations

import hashlib
import io
from dataclasses import dataclass
from typing import IO

from django.core.exceptions import ValidationError
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage

from workshop.apart.working import TooBusy
from workshop.tickets.photos import decode_photo
from workshop.web.pdf_files import acts_by_itself

MOST_BYTES = 10 * 1024 * 1024
PDF, PICTURE = "pdf", "jpg"


@dataclass(frozen=True)
class AttachedFile:
    """The bytes that are kept, and what they are."""

    data: bytes
    kind: str

    @property
    def digest(self) -> str:
        """SHA-256, in hexadecimal."""
        return hashlib.sha256(self.data).hexdigest()


@dataclass(frozen=True)
class WhatIsTaken:
    """What such a file is called where it is refused, how it gets smaller, and the refusal to raise."""

    one: str
    a_whole: str
    smaller: str
    refusal: type[ValidationError]


def read_attached(file: IO[bytes], *, name: str, taken: WhatIsTaken) -> AttachedFile:
    """Look at an uploaded file: by what it is, never by what it is called.

    Raises:
        taken.refusal: larger than MOST_BYTES, neither a PDF nor a picture, broken, or a PDF that acts by itself.
    """
    data = file.read(MOST_BYTES + 1)
    if len(data) > MOST_BYTES:
        raise taken.refusal(f"{name} is larger than {MOST_BYTES // 1024 // 1024} MB. {taken.smaller}")
    if data.startswith(b"%PDF-"):
        return _pdf(data, name, taken)
    try:
        photo = decode_photo(io.BytesIO(data), name=name)
    except TooBusy as busy:
        raise taken.refusal(str(busy)) from busy
    except ValidationError as refused:
        if not data or name.lower().rstrip("”").endswith(".pdf"):
            raise taken.refusal(f"{name} is no PDF, whatever it is called. Choose the {taken.one} again.") from None
        raise taken.refusal([*refused.messages, f"{taken.a_whole} is a PDF or a picture."]) from None
    return AttachedFile(photo.jpeg, PICTURE)


def store_attached(file: AttachedFile, *, folder: str) -> str:
    """Keep the bytes under their digest; equal names mean equal bytes."""
    name = f"{folder}/{file.digest[:2]}/{file.digest}.{file.kind}"
    if default_storage.exists(name):
        if default_storage.size(name) == len(file.data):
            return name
        default_storage.delete(name)
    return default_storage.save(name, ContentFile(file.data))


def _pdf(data: bytes, name: str, taken: WhatIsTaken) -> AttachedFile:
    if b"%%EOF" not in data[-2048:]:
        raise taken.refusal(f"{name} is a broken or incomplete PDF. Choose it again.")
    if acts_by_itself(data):
        raise taken.refusal(f"{name} does more than show pages. Print it to a plain PDF, or take a picture of it.")
    return AttachedFile(data, PDF)
