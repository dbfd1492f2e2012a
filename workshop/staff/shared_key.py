"""Whether this machine has the secret key that the others of its database have.

With another one sessions, links in letters, second factors and the mail password of one machine are nothing to the
next. A SQLite file is one machine's, whose data folder says it (`workshop/running/lives_here.py`).
"""

from __future__ import annotations

import hashlib
import secrets

from django.db import connection
from django.utils import timezone

from workshop.staff.shared_key_models import SharedKey

_ONE = 1


def is_anothers_key(key: str) -> bool:
    """Whether the machines of this database share a key, and it is another than this one."""
    if not _is_shared():
        return False
    shared = SharedKey.objects.filter(pk=_ONE).first()
    return shared is not None and not secrets.compare_digest(shared.digest, _digest(shared.salt, key))


def note_shared_key(key: str, *, anew: bool) -> None:
    """Note this key as the one that the machines share; that of before stays unless `anew`."""
    if not _is_shared() or (SharedKey.objects.filter(pk=_ONE).exists() and not (anew and is_anothers_key(key))):
        return
    salt = secrets.token_hex(16)
    values = {"salt": salt, "digest": _digest(salt, key), "at": timezone.now()}
    if anew:
        SharedKey.objects.update_or_create(pk=_ONE, defaults=values)
    else:
        SharedKey.objects.get_or_create(pk=_ONE, defaults=values)


def _digest(salt: str, key: str) -> str:
    return hashlib.sha256(f"{salt} {key}".encode()).hexdigest()


def _is_shared() -> bool:
    """Not in SQLite, nor before the table is there, which an upgrade makes."""
    return connection.vendor != "sqlite" and SharedKey._meta.db_table in connection.introspection.table_names()
