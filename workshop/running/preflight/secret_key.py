"""Whether the secret key is the shop's own, and nobody else's on this machine."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

from django.conf import settings

from workshop.running.backup import key_fingerprint
from workshop.running.lives_here import who_lives_here
from workshop.running.preflight.findings import Purpose, StartFinding

SUBJECT = "Secret key"


def secret_key(purpose: Purpose) -> Iterator[StartFinding]:
    """An empty one never gets here: the settings cannot be read with it, and `workshop.starting` says so."""
    place = Path(settings.DATA_DIR) / "secret_key"
    if not os.environ.get("SECRET_KEY") and place.exists() and place.stat().st_mode & 0o077:
        todo = f"Run: chmod 600 {place}. If somebody may have read it, have everybody choose a new password."
        yield StartFinding(SUBJECT, f"Others on this machine can read {place}.", todo)
    known = who_lives_here()
    if (
        purpose is not Purpose.RESTORE
        and known
        and known.key
        and known.key != key_fingerprint(str(settings.SECRET_KEY))
    ):
        yield StartFinding(
            SUBJECT,
            "It is another than this shop had. Links in letters sent so far, second factors and the mail password "
            "do not work with it, and everybody is signed out.",
            f"Put the old key back: it is “secret_key” in each backup, a zip, and belongs to {place} (mode 600); or "
            "set SECRET_KEY as it was. If it is lost for good: python3 manage.py check_shop --accept.",
        )
