"""Photos on a ticket: decoded within limits, turned upright, stripped of everything but the picture, and kept.

What is stored is always a JPEG that this module wrote itself, so no uploaded byte is ever served.
"""

from __future__ import annotations

import uuid
from typing import IO

from django.core.exceptions import ValidationError
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db import transaction
from django.utils import timezone

from diagnosis.models import Step
from workshop.apart.kinds import PICTURES
from workshop.apart.working import NotDone, TooBusy, work_apart
from workshop.staff.models import User
from workshop.tickets.decoding import (
    BROKEN,
    LONG_SIDE_PX,
    MOST_PIXELS,
    NO_PICTURE,
    SMALL_SIDE_PX,
    TOO_MANY_PIXELS,
    DecodedPhoto,
    PictureRefused,
    photo_in,
)
from workshop.tickets.logbook import log
from workshop.tickets.models import Photo, Ticket

MOST_BYTES = 20 * 1024 * 1024
MOST_AT_ONCE = 12
# ISO/IEC 23008-12 and AV1: what the first box says of such a file, its major brand.
_PHONES_OWN = {b"heic", b"heix", b"hevc", b"hevx", b"heim", b"heis", b"mif1", b"msf1", b"avif", b"avis"}
# What the logbook calls it when a photo is chosen for a moment.
_CHOSEN = {"": "photo_not_shown", "before": "photo_shown_before", "after": "photo_shown_after"}
_REFUSED = {
    TOO_MANY_PIXELS: f"{{name}} has more than {MOST_PIXELS // 1_000_000} megapixels. Choose a smaller photo.",
    NO_PICTURE: "{name} is no photo that can be read here. Choose a JPEG, PNG or WebP.",
    BROKEN: "{name} is broken or incomplete. Take or choose it again.",
}
__all__ = ["LONG_SIDE_PX", "SMALL_SIDE_PX", "DecodedPhoto"]


class PhotoRefused(ValidationError):
    """That a file is no photo we take; the message says why and what to do."""


def decode_photo(file: IO[bytes], *, name: str = "The file") -> DecodedPhoto:
    """Read an uploaded picture and write it anew.

    Args:
        file: JPEG, PNG or WebP, up to MOST_BYTES and MOST_PIXELS.
        name: what to call the file in messages.

    Raises:
        PhotoRefused: too large, no picture, another kind of picture, broken, or too much to decode.
        workshop.apart.working.TooBusy: others' pictures are being decoded; nothing is wrong with this one.
    """
    data = file.read(MOST_BYTES + 1)
    if len(data) > MOST_BYTES:
        raise PhotoRefused(f"{name} is larger than {MOST_BYTES // 1024 // 1024} MB. Choose a smaller photo.")
    if data[4:8] == b"ftyp" and data[8:12] in _PHONES_OWN:
        raise PhotoRefused(
            f"{name} is no photo that can be read here: it is HEIC or AVIF. On the phone, set its camera to JPEG, or "
            "choose a JPEG, PNG or WebP."
        )
    try:
        return work_apart(PICTURES, photo_in, data)
    except PictureRefused as refused:
        raise PhotoRefused(_REFUSED[refused.reason].format(name=name)) from None
    except TooBusy:
        raise
    except NotDone as reason:
        raise PhotoRefused(f"{name}: {reason}") from reason


@transaction.atomic
def add_photo(
    *,
    ticket: Ticket,
    by: User | None,
    photo: DecodedPhoto,
    caption: str = "",
    step: Step | None = None,
    for_customer: bool = False,
    client_id: uuid.UUID | None = None,
) -> Photo:
    """Keep a photo on a ticket under the digest of its bytes.

    Args:
        client_id: made where the photo was taken; the same photo sent twice is kept once.

    Raises:
        ValidationError: the caption is too long, or the ticket has this very client_id from another ticket.
    """
    if client_id is not None:
        kept = Photo.with_removed.filter(ticket=ticket, client_id=client_id).first()
        if kept is not None:
            return kept
    row = Photo(
        ticket=ticket,
        step=step,
        client_id=client_id or uuid.uuid4(),
        width=photo.width,
        height=photo.height,
        digest=photo.digest,
        caption=caption.strip(),
        for_customer=for_customer,
        by=by,
        at=timezone.now(),
    )
    row.full_clean(exclude=["ticket", "step", "by", "file", "thumbnail"])
    row.file.name = _store(photo.jpeg, f"photos/{photo.digest[:2]}/{photo.digest}.jpg")
    row.thumbnail.name = _store(photo.small_jpeg, f"photos/{photo.digest[:2]}/{photo.digest}-small.jpg")
    row.save()
    log(ticket=ticket, by=by, kind="photo_added", values={"caption": row.caption})
    return row


@transaction.atomic
def choose_photo(*, photo: Photo, by: User, moment: str) -> None:
    """Show a photo to the customer, on their page and on the papers printed from now on; with no moment, no longer.

    Chosen so before, as by a second press, it stays as it is.

    Raises:
        ValidationError: no such moment.
    """
    if (photo.moment, photo.for_customer) == (moment, bool(moment)):
        return
    photo.moment, photo.for_customer = moment, bool(moment)
    photo.clean_fields(exclude={field.name for field in Photo._meta.fields} - {"moment"})
    photo.save(update_fields=["moment", "for_customer"])
    log(ticket=photo.ticket, by=by, kind=_CHOSEN[moment], values={"caption": photo.caption})


def _store(content: bytes, name: str) -> str:
    """Write the bytes unless they are there: equal names mean equal bytes, unless a write was cut short."""
    if default_storage.exists(name):
        if default_storage.size(name) == len(content):
            return name
        default_storage.delete(name)
    return default_storage.save(name, ContentFile(content))
