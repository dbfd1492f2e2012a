"""A reminder as a letter to print and post."""

from __future__ import annotations

from typing import Any

from django.utils import timezone
from django.utils.translation import gettext

from workshop.documents.common import date_text, logo_of_shop, shop_block
from workshop.documents.rendering import html_of, pdf_of
from workshop.reminders.models import Message
from workshop.web.languages import speaking
from workshop.web.public_address import link_as_of_now


def letter_data(message: Message) -> dict[str, Any]:
    """What the letter prints: the message as it was approved, and only the shop's own addresses are new."""
    name = message.customer.name if message.customer is not None else ""  # only an order, an email, has no customer
    return {
        "title": gettext("Letter to %(name)s") % {"name": name},
        "shop": shop_block(message.shop),
        "name": name,
        "address": message.to_address,
        "written": date_text(timezone.localtime(message.queued_at).date()),
        "subject": message.subject,
        "body": message.body,
        "stop_url": link_as_of_now(message.shop, message.stop_url),
    }


def letter_pdf(message: Message) -> bytes:
    """The letter on the shop's paper. Raises workshop.documents.rendering.PdfUnavailable."""
    with speaking(message.language):
        html = html_of("documents/reminder_letter.html", letter_data(message), logo=logo_of_shop(message.shop))
    return pdf_of(html, message.shop.paper)
