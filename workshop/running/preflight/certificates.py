"""Certificates: those that `serve` is given, and the authority that the shop's tablets trust."""

from __future__ import annotations

import datetime as dt
import os
from collections.abc import Iterator
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import serialization
from django.conf import settings
from django.utils import timezone

from workshop.running.preflight.findings import Purpose, StartFinding
from workshop.shop_network.authority import ENDS_SOON, FILE
from workshop.shop_network.served import FOLDER

SUBJECT = "Certificate"
CERTIFICATE_OF_SERVER = "SHOP_CERTIFICATE"  # handed to the server by `serve --certificate`, for its page System
RENEW_WITHIN = dt.timedelta(days=21)
PUT_ANOTHER = "Put a certificate in its place that is good now, and start again."


def certificates(purpose: Purpose) -> Iterator[StartFinding]:
    now = timezone.now()
    if given := os.environ.get(CERTIFICATE_OF_SERVER):
        yield from of_server(Path(given), None, now)
    authority = Path(settings.DATA_DIR) / FOLDER / FILE
    if authority.exists():
        yield from _of_authority(authority, now)


def of_server(certificate: Path, key: Path | None, now: dt.datetime) -> Iterator[StartFinding]:
    """Whether browsers take it, and whether its key goes with it."""
    try:
        first = x509.load_pem_x509_certificates(certificate.read_bytes())[0]
    except OSError as error:
        yield StartFinding(
            SUBJECT, f"{certificate} cannot be read: {error.strerror}.", "Look at --certificate.", stops=True
        )
        return
    except ValueError:
        yield StartFinding(
            SUBJECT, f"There is no certificate in {certificate}, as PEM has one.", PUT_ANOTHER, stops=True
        )
        return
    if key is not None:
        yield from _of_key(first, key)
    if now < first.not_valid_before_utc:
        words = (
            f"{certificate} is good from {first.not_valid_before_utc:%-d %B %Y} on, and the clock says {now:%-d %B %Y}."
        )
        yield StartFinding(SUBJECT, words, "Set the clock of this machine, or put another certificate there.")
    elif now >= first.not_valid_after_utc:
        words = f"{certificate} ended on {first.not_valid_after_utc:%-d %B %Y}: browsers refuse it."
        yield StartFinding(SUBJECT, words, PUT_ANOTHER)
    elif now >= first.not_valid_after_utc - RENEW_WITHIN:
        words = f"{certificate} ends on {first.not_valid_after_utc:%-d %B %Y}; then browsers refuse it."
        yield StartFinding(SUBJECT, words, "Renew it before, and start again.")


def _of_key(certificate: x509.Certificate, key: Path) -> Iterator[StartFinding]:
    try:
        private = serialization.load_pem_private_key(key.read_bytes(), password=None)
    except OSError as error:
        yield StartFinding(SUBJECT, f"{key} cannot be read: {error.strerror}.", "Look at --key.", stops=True)
        return
    except (ValueError, TypeError):
        todo = "The server takes an unencrypted key, PKCS#8 in PEM."
        yield StartFinding(SUBJECT, f"There is no private key in {key} that can be used.", todo, stops=True)
        return
    if private.public_key() != certificate.public_key():
        yield StartFinding(
            SUBJECT, f"{key} is the key of another certificate.", "Look at --certificate and --key.", stops=True
        )
    elif key.stat().st_mode & 0o077:
        yield StartFinding(SUBJECT, f"Others on this machine can read {key}.", f"Run: chmod 600 {key}")


def _of_authority(place: Path, now: dt.datetime) -> Iterator[StartFinding]:
    subject = "The tablets’ trust"
    try:
        ends = x509.load_pem_x509_certificates(place.read_bytes())[0].not_valid_after_utc
    except (OSError, ValueError):
        yield StartFinding(subject, f"{place} cannot be read.", "Bring that file back from a backup.")
        return
    if now >= ends - ENDS_SOON:
        yield StartFinding(
            subject,
            f"The shop’s own authority ends on {ends:%-d %B %Y}.",
            f"Before that day, move {place} away and start again: a new one is made, and every tablet has to trust it.",
        )
    if place.stat().st_mode & 0o077:
        yield StartFinding(subject, f"Others on this machine can read {place}.", f"Run: chmod 600 {place}")
