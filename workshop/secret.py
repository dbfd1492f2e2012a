"""The secret key of this shop: made on the first start, kept outside git, readable by its owner only."""

from __future__ import annotations

import os
import secrets
from pathlib import Path


def load_or_make_secret_key(path: Path) -> str:
    """Return the key in `path`, making it (mode 600) if it is not there.

    Two processes may start at once: the one that creates the file wins and the other reads it.
    """
    if not path.exists():
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        draft = path.with_name(f".{path.name}.{os.getpid()}")
        descriptor = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(descriptor, "w") as file:
            file.write(secrets.token_urlsafe(64))
            file.flush()
            os.fsync(file.fileno())
        try:
            os.link(draft, path)
        except FileExistsError:
            pass
        finally:
            draft.unlink()
    return path.read_text().strip()
