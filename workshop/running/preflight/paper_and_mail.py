"""What PDFs need of the machine, and whether the settings of mail can be used."""

from __future__ import annotations

from collections.abc import Iterator

from django.conf import settings

from workshop import pdf_libraries
from workshop.reminders.mail_models import MailSettings
from workshop.reminders.mail_setting import password_of, sender_of_server, set_by_server
from workshop.running.preflight.findings import Purpose, StartFinding
from workshop.staff.models import Shop
from workshop.staff.sealing import CannotOpen

_SHOPS = 50


def pdfs(purpose: Purpose) -> Iterator[StartFinding]:
    if missing := pdf_libraries.missing_packages():
        yield StartFinding("PDFs", pdf_libraries.advice(missing))


def mail(purpose: Purpose) -> Iterator[StartFinding]:
    """Settings that contradict each other, a sender that is not there, a password that another key sealed; one query.

    A shop that never set mail up has no fault.
    """
    if settings.EMAIL_USE_SSL and settings.EMAIL_USE_TLS:
        todo = "Set one of the two to 0: EMAIL_SSL with port 465, EMAIL_STARTTLS with 587."
        yield StartFinding("Mail", "EMAIL_SSL and EMAIL_STARTTLS are both on, and no mail server takes both.", todo)
    elif set_by_server():
        nameless = [] if sender_of_server() else list(Shop.objects.filter(email="", is_demo=False)[:_SHOPS])
        if nameless:
            names = " and ".join(f"“{shop.name}”" for shop in nameless)
            todo = "Enter the shop’s email in Office, Shop, or set EMAIL_FROM."
            yield StartFinding("Mail", f"EMAIL_HOST is set, and there is no address to send from for {names}.", todo)
    else:
        kept = MailSettings.objects.filter(by_server=False, arrived_at__isnull=False).select_related("shop")
        for one in kept[:_SHOPS]:
            if not _opens(one):
                words = f"The mail password of “{one.shop.name}” was kept with another secret key and cannot be opened."
                yield StartFinding("Mail", words, "Put the old key back, or set up Office, Shop, Mail anew.")


def _opens(kept: MailSettings) -> bool:
    try:
        password_of(kept)
    except CannotOpen:
        return False
    return True
