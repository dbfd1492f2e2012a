"""The photos that the shop chose for the customer, named as they are stored: their bytes are put in at printing."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext

from workshop.tickets.models import Photo, Ticket


def photo_rows(ticket: Ticket, *moments: str) -> list[dict[str, Any]]:
    """Chosen photos of these moments, or of any, the oldest first; `words` are read out in place of the picture."""
    chosen = ticket.photos.filter(for_customer=True).select_related("step")
    return [_row(photo) for photo in (chosen.filter(moment__in=moments) if moments else chosen)]


def _row(photo: Photo) -> dict[str, Any]:
    moment = str(Photo.Moment(photo.moment).label) if photo.moment else gettext("Photo")
    at = photo.caption or (photo.step.title if photo.step else "")
    without_words = gettext("a photo without words")
    return {
        "file": photo.thumbnail.name,
        "digest": photo.digest,
        "moment": photo.moment,
        "caption": f"{moment}: {at}" if at else moment,
        "words": f"{moment}: {at or without_words}",
    }
