"""Pictures of the shop's own store inside a page that fetches nothing."""

from __future__ import annotations

from base64 import b64encode

from django import template
from django.core.files.storage import default_storage

from workshop.web.storage import StoreAway

register = template.Library()


@register.filter
def picture_address(name: str) -> str:
    """An address that holds the stored JPEG itself; empty where the file is lost, which the page then says.

    Raises StoreAway: no paper says for good that a picture is lost because its store did not answer for a moment.
    """
    try:
        with default_storage.open(name) as file:
            return f"data:image/jpeg;base64,{b64encode(file.read()).decode()}"
    except StoreAway:
        raise
    except OSError:
        return ""
