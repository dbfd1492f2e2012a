"""The server's certificate: short-lived, for the names and addresses of today, made anew whenever it no longer fits."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path

from cryptography import x509
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives import serialization

from workshop.secret import write_anew
from workshop.shop_network.authority import Authority, issue_certificate, pem_of_key

FILE = "server.pem"  # key, certificate and issuer in one file, so that they are renewed in one step
LASTS = dt.timedelta(days=30)
RENEWED_BEFORE = dt.timedelta(days=20)


def renew(folder: Path, authority: Authority, hosts: Sequence[str], *, now: dt.datetime) -> str:
    """Make the certificate anew where that is due; why, in words, or empty where it stays."""
    place = folder / FILE
    why = why_renew(_read(place), authority, hosts, now=now)
    if why:
        certificate, key = issue_certificate(authority, hosts, now=now, lasts=LASTS)
        chain = (certificate, authority.issuer)
        write_anew(place, pem_of_key(key) + b"".join(one.public_bytes(serialization.Encoding.PEM) for one in chain))
    return why


def why_renew(
    certificate: x509.Certificate | None, authority: Authority, hosts: Sequence[str], *, now: dt.datetime
) -> str:
    """What is wrong with a certificate, in words; empty where nothing is."""
    if certificate is None:
        return "there is none that can be read"
    if not _is_from(authority, certificate):
        return "it is from another authority"
    if hosts_of(certificate) != set(hosts):
        return "names or addresses changed"
    if now < certificate.not_valid_before_utc:
        return "it was made by a clock that was fast"
    if now >= certificate.not_valid_after_utc:
        return "it had expired"
    if certificate.not_valid_after_utc - now < min(RENEWED_BEFORE, (authority.ends - now) / 2):
        return "it expires soon"
    return ""


def hosts_of(certificate: x509.Certificate) -> set[str]:
    """Names and addresses it is for."""
    found = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    return {*found.get_values_for_type(x509.DNSName), *map(str, found.get_values_for_type(x509.IPAddress))}


def _is_from(authority: Authority, certificate: x509.Certificate) -> bool:
    try:
        certificate.verify_directly_issued_by(authority.issuer)
    except (ValueError, TypeError, InvalidSignature):
        return False
    return True


def _read(place: Path) -> x509.Certificate | None:
    try:
        content = place.read_bytes()
        key = serialization.load_pem_private_key(content, password=None)
        certificate = x509.load_pem_x509_certificates(content)[0]
    except (OSError, ValueError, TypeError, IndexError):
        return None
    return certificate if key.public_key() == certificate.public_key() else None
