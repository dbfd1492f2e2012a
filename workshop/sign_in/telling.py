"""Telling somebody by email that their name was used on a new device."""

from __future__ import annotations

from email.utils import make_msgid

from django.core.mail import EmailMessage
from django.http import HttpRequest
from django.utils import timezone

from workshop.reminders.delivery import CutOff, NotNow, Refused, delivery_for, sender_of, why_no_mail
from workshop.staff.models import User
from workshop.staff.security_log import WhereFrom
from workshop.web.plain_text import one_line

WITHIN_S = 5
"""A sign-in waits no longer for a mail server; who is not told by email is told on screen all the same."""


def tell_by_mail(request: HttpRequest, user: User) -> bool:
    """Whether a letter left. None does without an address of theirs, or where the shop has no mail server."""
    shop = user.shop
    if shop is None or not user.email or why_no_mail(shop, with_link=False):
        return False
    place, sender = WhereFrom.of(request), sender_of(shop)
    now = timezone.localtime()
    letter = EmailMessage(
        subject=one_line(f"{shop.name}: signed in on a new device"),
        body=(
            f"{user}: your name was used to sign in on a device that was new, {now:%-d %b %Y, %H:%M}.\n"
            f"{place.browser}, from {place.address}.\n\n"
            "If that was you, nothing is to be done. If not, change your password at once, end the other sessions "
            "under your name, and tell an owner of the shop.\n"
        ),
        from_email=sender,
        to=[user.email],
        headers={"Message-ID": make_msgid(domain=sender.rpartition("@")[2] or "localhost"),
                 "Auto-Submitted": "auto-generated"},
    )  # fmt: skip
    delivery = delivery_for(shop, within_s=WITHIN_S)
    try:
        delivery.open()
        delivery.hand_over(letter)
    except (NotNow, Refused, CutOff):
        return False
    finally:
        delivery.close()
    return True
