"""The one place where somebody's picture is decoded, within limits, and drawn anew. No Django: a worker does it."""

from __future__ import annotations

import hashlib
import io
from dataclasses import dataclass

from PIL import Image, ImageFile, ImageOps, UnidentifiedImageError

MOST_PIXELS = 64_000_000
LONG_SIDE_PX = 2400
SMALL_SIDE_PX = 480
READ_FORMATS = ("JPEG", "PNG", "WEBP")
_QUALITY = 85
_SMALL_QUALITY = 78


class PictureRefused(ValueError):
    """That a file is no picture we take; `reason` is one of those below, for whoever asked to put into words."""

    def __init__(self, reason: str) -> None:
        super().__init__(reason)
        self.reason = reason


TOO_MANY_PIXELS, NO_PICTURE, BROKEN = "too many pixels", "no picture", "broken"


@dataclass(frozen=True)
class DecodedPhoto:
    """A photo re-encoded as JPEG, with its small version; width and height in pixels."""

    jpeg: bytes
    small_jpeg: bytes
    width: int
    height: int

    @property
    def digest(self) -> str:
        """SHA-256 of the re-encoded bytes, in hexadecimal."""
        return hashlib.sha256(self.jpeg).hexdigest()


def photo_in(data: bytes) -> DecodedPhoto:
    """A photo and its small version. Raises PictureRefused, MemoryError."""
    whole = _decoded(data, LONG_SIDE_PX, MOST_PIXELS)
    return DecodedPhoto(
        jpeg=_as_jpeg(whole, _QUALITY),
        small_jpeg=_as_jpeg(_small(whole), _SMALL_QUALITY),
        width=whole.width,
        height=whole.height,
    )


def png_in(data: bytes, *, longest_px: int, most_pixels: int) -> bytes:
    """A picture as a small PNG on white. Raises PictureRefused, MemoryError."""
    drawn = io.BytesIO()
    _decoded(data, longest_px, most_pixels).save(drawn, "PNG", optimize=True)
    return drawn.getvalue()


def _decoded(data: bytes, longest_px: int, most_pixels: int) -> Image.Image:
    """Upright, no side longer than `longest_px`, RGB, on white where it was see-through; pixels and nothing else."""
    ImageFile.LOAD_TRUNCATED_IMAGES = False  # WeasyPrint sets it for the whole process, and half a photo would pass
    try:
        with Image.open(io.BytesIO(data), formats=READ_FORMATS) as picture:
            if picture.width * picture.height > most_pixels:
                raise PictureRefused(TOO_MANY_PIXELS)
            # A JPEG can be decoded straight to about the size that is kept, which is many times quicker.
            picture.draft("RGB", (longest_px, longest_px))
            return _upright_on_white(picture, longest_px)
    except (Image.DecompressionBombError, Image.DecompressionBombWarning):
        raise PictureRefused(TOO_MANY_PIXELS) from None
    except UnidentifiedImageError:
        raise PictureRefused(NO_PICTURE) from None
    except PictureRefused:
        raise
    except (OSError, ValueError, SyntaxError, EOFError):
        raise PictureRefused(BROKEN) from None


def _upright_on_white(picture: Image.Image, longest_px: int) -> Image.Image:
    """Made small before anything else: each further step takes as much memory as the picture it is done to."""
    is_see_through = picture.mode in {"RGBA", "LA", "PA"} or "transparency" in picture.info
    mode = "RGBA" if is_see_through else "RGB"
    layered = picture if picture.mode == mode else picture.convert(mode)
    layered.thumbnail((longest_px, longest_px), Image.Resampling.LANCZOS)
    upright = ImageOps.exif_transpose(layered)
    flat = Image.new("RGB", upright.size, "white")
    flat.paste(upright, mask=upright.getchannel("A") if is_see_through else None)
    return flat


def _small(picture: Image.Image) -> Image.Image:
    small = picture.copy()
    small.thumbnail((SMALL_SIDE_PX, SMALL_SIDE_PX), Image.Resampling.LANCZOS)
    return small


def _as_jpeg(picture: Image.Image, quality: int) -> bytes:
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=quality, optimize=True, progressive=True)
    return out.getvalue()
