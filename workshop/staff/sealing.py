"""Secrets that are kept in the database, sealed with a key that follows from the shop's secret key.

A database that is read without that key gives none away. With another key a secret cannot be opened, and is asked anew.
"""

from __future__ import annotations

import base64

from cryptography.fernet import Fernet, InvalidToken
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from django.conf import settings


class CannotOpen(ValueError):
    """It was sealed with another key, or is no sealed secret."""


def seal(secret: str, *, purpose: str) -> str:
    """The secret, sealed: ASCII text that differs each time. What was sealed for one purpose opens for no other."""
    return _box(purpose).encrypt(secret.encode()).decode("ascii")


def unseal(sealed: str, *, purpose: str) -> str:
    """What was sealed. Raises CannotOpen."""
    try:
        return _box(purpose).decrypt(sealed.encode("ascii")).decode()
    except (InvalidToken, UnicodeError) as error:
        raise CannotOpen("It was sealed with another secret key.") from error


def _box(purpose: str) -> Fernet:
    """HKDF (RFC 5869) over the secret key, with the purpose as its info; Fernet takes the 32 bytes in base64."""
    derived = HKDF(algorithm=SHA256(), length=32, salt=None, info=f"sealed {purpose}".encode())
    return Fernet(base64.urlsafe_b64encode(derived.derive(str(settings.SECRET_KEY).encode())))
