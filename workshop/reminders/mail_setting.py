"""Setting up mail on the screen: tried by a letter whose code comes back, and only then used."""

from __future__ import annotations

import datetime as dt
import secrets
from dataclasses import dataclass
from email.message import EmailMessage
from email.utils import formataddr, make_msgid

from django.conf import settings
from django.db import transaction
from django.utils import timezone

from workshop.reminders.mail_models import MailSettings
from workshop.reminders.mail_server import MailRefused, MailServerAt, send_test_letter
from workshop.staff.models import Shop, User
from workshop.staff.sealing import CannotOpen, seal, unseal
from workshop.web.plain_text import one_line

NO_MAIL = "django.core.mail.backends.dummy.EmailBackend"
CODE_LASTS = dt.timedelta(days=2)
_PASSWORD = "mail password"  # noqa: S105  what it is sealed for
_Security = MailSettings.Security


class ChangedMeanwhile(Exception):
    """Another owner set up mail while this letter was on its way; the message says who."""


class WrongMailCode(ValueError):
    """It is not the code of the letter."""


@dataclass(frozen=True)
class MailWanted:
    """A mail server as it was typed. `password` empty: the one that is kept for the same host and name."""

    host: str
    port: int
    security: str
    username: str
    password: str
    sender: str


def set_by_server() -> bool:
    """Whether the server's environment names the mail server (EMAIL_HOST); then no screen changes it."""
    return bool(settings.EMAIL_BACKEND != NO_MAIL)


def sender_of_server() -> str:
    """The sender that the environment names (EMAIL_FROM), empty where it names none."""
    chosen = str(settings.DEFAULT_FROM_EMAIL)
    return chosen if "@" in chosen else ""


def mail_in_use(shop: Shop) -> MailSettings | None:
    """The server that an owner set up and whose letter arrived."""
    rows = MailSettings.objects.select_related("sent_by")
    return rows.filter(shop=shop, by_server=False, arrived_at__isnull=False).first()


def letter_under_way(shop: Shop, by: User) -> MailSettings | None:
    """The last test letter of this owner, as long as its code counts and did not come back."""
    rows = MailSettings.objects.filter(shop=shop, sent_by=by, by_server=set_by_server(), arrived_at__isnull=True)
    return rows.filter(sent_at__gt=timezone.now() - CODE_LASTS).order_by("-pk").first()


def password_of(kept: MailSettings) -> str:
    """Raises CannotOpen where the server's secret key is another than when it was kept."""
    return unseal(kept.password_sealed, purpose=_PASSWORD) if kept.password_sealed else ""


def try_mail(*, shop: Shop, wanted: MailWanted, letter_to: str, by: User) -> MailSettings:
    """Send a test letter by this server. What is in use stays until its code comes back.

    Not inside a transaction: a server that does not answer must hold no lock. Raises MailRefused.
    """
    kept = mail_in_use(shop)
    password = wanted.password or _kept_password(kept, wanted)
    if wanted.username and not password:
        raise MailRefused("password", "Enter the password that belongs to the name.")
    at = MailServerAt(wanted.host, wanted.port, wanted.security, wanted.username, password)
    tried = MailSettings(
        shop=shop, host=wanted.host, port=wanted.port, security=wanted.security, username=wanted.username,
        password_sealed=seal(password, purpose=_PASSWORD) if password else "", sender=wanted.sender,
    )  # fmt: skip
    return _send(tried, at, kept, letter_to=letter_to, by=by)


def try_mail_of_server(*, shop: Shop, letter_to: str, by: User) -> MailSettings:
    """Send a test letter by the server of the environment. Raises MailRefused."""
    security = _Security.TLS if settings.EMAIL_USE_SSL else _Security.STARTTLS if settings.EMAIL_USE_TLS else "none"
    at = MailServerAt(
        str(settings.EMAIL_HOST), int(settings.EMAIL_PORT), security, str(settings.EMAIL_HOST_USER),
        str(settings.EMAIL_HOST_PASSWORD),
    )  # fmt: skip
    tried = MailSettings(shop=shop, by_server=True, host=at.host, port=at.port, security=security)
    return _send(tried, at, None, letter_to=letter_to, by=by)


def _kept_password(kept: MailSettings | None, wanted: MailWanted) -> str:
    """The kept one goes to the server and name it was kept for, and to no other."""
    if kept is None or (kept.host, kept.username) != (wanted.host, wanted.username):
        return ""
    try:
        return password_of(kept)
    except CannotOpen:
        return ""


def _send(
    tried: MailSettings, at: MailServerAt, kept: MailSettings | None, *, letter_to: str, by: User
) -> MailSettings:
    shop = tried.shop
    sender = sender_of_server() or tried.sender or shop.email
    if not sender:
        raise MailRefused("sender", "Enter the address the shop writes from.")
    tried.letter_to, tried.code = letter_to, f"{secrets.randbelow(10**6):06}"
    tried.instead_of = kept.pk if kept else None
    tried.sent_by, tried.sent_at = by, timezone.now()
    tried.full_clean(exclude=["shop", "sent_by"], validate_constraints=False)
    send_test_letter(at, _letter(tried, sender))
    with transaction.atomic():
        MailSettings.objects.filter(shop=shop, sent_by=by, arrived_at__isnull=True).delete()
        tried.save()
    return tried


def _letter(tried: MailSettings, sender: str) -> EmailMessage:
    name = one_line(tried.shop.name).replace("=?", "= ?")
    letter = EmailMessage()
    letter["Subject"] = f"Test letter of {name}: {tried.code}"
    letter["From"] = formataddr((name, sender))
    letter["To"] = tried.letter_to
    letter["Message-ID"] = make_msgid(domain=sender.rpartition("@")[2])
    letter["Auto-Submitted"] = "auto-generated"
    letter.set_content(
        f"Hello,\n\nThis letter shows that email of {name} arrives.\n\n"
        f"Its code is {tried.code}. Enter it in Office, Shop, Mail.\n"
    )
    return letter


def letter_arrived(*, shop: Shop, code: str, by: User) -> MailSettings:
    """Use the server from now on: the code of its letter came back. One that was in use before is forgotten.

    Raises:
        WrongCode: no letter of this owner has that code, or it was sent too long ago.
        ChangedMeanwhile: another owner's letter came back first.
    """
    with transaction.atomic():
        Shop.objects.select_for_update().only("pk").get(pk=shop.pk)
        tried = letter_under_way(shop, by)
        if tried is None:
            raise WrongMailCode(
                "There is no test letter on its way, or it was sent more than two days ago. Send another."
            )
        if not secrets.compare_digest(tried.code.encode(), "".join(code.split()).encode()):
            raise WrongMailCode("That is not the code of the newest letter. It has six digits.")
        before = MailSettings.objects.filter(shop=shop, by_server=tried.by_server, arrived_at__isnull=False)
        if not tried.by_server:
            _refuse_changed(mail_in_use(shop), tried)
        before.delete()
        tried.arrived_at = timezone.now()
        tried.save(update_fields=["arrived_at"])
    return tried


def _refuse_changed(kept: MailSettings | None, tried: MailSettings) -> None:
    if kept is None or kept.pk == tried.instead_of:
        return
    raise ChangedMeanwhile(
        f"{kept.sent_by or 'Somebody'} set up mail by {kept.host} meanwhile, and that is in use. "
        "To use yours instead, send its test letter again."
    )
