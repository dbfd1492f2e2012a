"""What PDFs need of the machine, and whether the settings of mail can be used."""

from __future__ import annotations

from collections.abc import Iterator

from django.conf import settings

from workshop import pdf_libraries
from workshop.reminders.delivery import why_no_mail
from workshop.reminders.mail_setting import mail_in_use, set_by_server
from workshop.running.preflight.findings import Finding, Purpose
from workshop.staff.models import Shop

_SHOPS = 50


def pdfs(purpose: Purpose) -> Iterator[Finding]:
    if missing := pdf_libraries.missing_packages():
        yield Finding("PDFs", pdf_libraries.advice(missing))


def mail(purpose: Purpose) -> Iterator[Finding]:
    """Settings that contradict each other, a sender that is not there, a password that another key sealed."""
    if settings.EMAIL_USE_SSL and settings.EMAIL_USE_TLS:
        todo = "Set one of the two to 0: EMAIL_SSL with port 465, EMAIL_STARTTLS with 587."
        yield Finding("Mail", "EMAIL_SSL and EMAIL_STARTTLS are both on, and no mail server takes both.", todo)
        return
    told = set()
    for shop in Shop.objects.order_by("pk")[:_SHOPS]:
        if not (set_by_server() or mail_in_use(shop)):
            continue  # mail was never set up: no fault
        if (why := why_no_mail(shop, with_link=False)) and why not in told:
            told.add(why)
            yield Finding("Mail", why)
