"""A shop's logo: read within limits, drawn anew as a small PNG, and kept as an address that holds it."""

from __future__ import annotations

from base64 import b64encode
from typing import IO

from django.core.exceptions import ValidationError

from workshop.apart.kinds import PICTURES
from workshop.apart.working import NotDone, work_apart
from workshop.tickets.decoding import TOO_MANY_PIXELS, PictureRefused, png_in

MOST_BYTES = 5 * 1024 * 1024
MOST_PIXELS = 16_000_000
LONG_SIDE_PX = 480
_NONE = "is no picture that can be read here. Choose a JPEG, PNG or WebP."


def logo_of(file: IO[bytes], *, name: str = "The file") -> str:
    """The picture as a data address of a PNG of ours. Raises ValidationError for what is no picture we take."""
    data = file.read(MOST_BYTES + 1)
    if len(data) > MOST_BYTES:
        raise ValidationError(f"{name} is larger than {MOST_BYTES // 1024 // 1024} MB. Choose a smaller picture.")
    try:
        drawn = work_apart(PICTURES, png_in, data, longest_px=LONG_SIDE_PX, most_pixels=MOST_PIXELS)
    except PictureRefused as refused:
        said = "has too many pixels. Choose a smaller picture." if refused.reason == TOO_MANY_PIXELS else _NONE
        raise ValidationError(f"{name} {said}") from None
    except NotDone as reason:
        raise ValidationError(str(reason)) from reason
    return f"data:image/png;base64,{b64encode(drawn).decode()}"
