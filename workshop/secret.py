"""The secret key of this shop: made on the first start, kept outside git, readable by its owner only."""

from __future__ import annotations

import contextlib
import os
import secrets
import tempfile
from pathlib import Path


def load_or_make_secret_key(path: Path) -> str:
    """Return the key in `path`, making it (mode 600) if it is not there.

    Several processes may start at once: the first to link its draft into place wins, the others read that key.
    """
    if not path.exists():
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        descriptor, draft = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
        with os.fdopen(descriptor, "w") as file:
            file.write(secrets.token_urlsafe(64))
            file.flush()
            os.fsync(file.fileno())
        with contextlib.suppress(FileExistsError):
            os.link(draft, path)
        os.unlink(draft)
    return path.read_text().strip()
