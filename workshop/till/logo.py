"""A shop's logo: read within limits, drawn anew as a small PNG, and kept as an address that holds it."""

from __future__ import annotations

import io
from base64 import b64encode
from typing import IO

from django.core.exceptions import ValidationError
from PIL import Image, ImageFile, ImageOps

MOST_BYTES = 5 * 1024 * 1024
MOST_PIXELS = 16_000_000
LONG_SIDE_PX = 480
READ_FORMATS = ("JPEG", "PNG", "WEBP")


def logo_of(file: IO[bytes], *, name: str = "The file") -> str:
    """The picture as a data address of a PNG of ours. Raises ValidationError for what is no picture we take."""
    data = file.read(MOST_BYTES + 1)
    if len(data) > MOST_BYTES:
        raise ValidationError(f"{name} is larger than {MOST_BYTES // 1024 // 1024} MB. Choose a smaller picture.")
    ImageFile.LOAD_TRUNCATED_IMAGES = False  # WeasyPrint sets it for the whole process
    try:
        with Image.open(io.BytesIO(data), formats=READ_FORMATS) as picture:
            if picture.width * picture.height > MOST_PIXELS:
                raise ValidationError(f"{name} has too many pixels. Choose a smaller picture.")
            upright = ImageOps.exif_transpose(picture).convert("RGBA")
    except (Image.DecompressionBombError, Image.DecompressionBombWarning):
        raise ValidationError(f"{name} has too many pixels. Choose a smaller picture.") from None
    except (OSError, ValueError, SyntaxError, EOFError, MemoryError):
        raise ValidationError(f"{name} is no picture that can be read here. Choose a JPEG, PNG or WebP.") from None
    # On white: a paper is white, and what is see-through would need a mask in the PDF.
    ground = Image.new("RGB", upright.size, "white")
    ground.paste(upright, mask=upright.getchannel("A"))
    ground.thumbnail((LONG_SIDE_PX, LONG_SIDE_PX))
    drawn = io.BytesIO()
    ground.save(drawn, "PNG", optimize=True)
    return f"data:image/png;base64,{b64encode(drawn.getvalue()).decode()}"
