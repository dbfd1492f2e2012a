"""The edition of the checklists in fixtures/checklists: raised with each release that changes one of their files.

By it a machine with an older release knows that the texts in the database are newer than its own.
`tests/diagnosis/test_edition.py` says what to write here after a change.
"""

from __future__ import annotations

import hashlib
from pathlib import Path

EDITION = 1
DIGEST = "93cf821456727203"


def digest_of(folder: Path) -> str:
    """What tells the files of a folder of checklists from others, in 16 letters."""
    digest = hashlib.sha256()
    for file in sorted(folder.glob("*.yaml")):
        digest.update(f"\0{file.name}\0".encode() + file.read_bytes())
    return digest.hexdigest()[:16]
