"""The secret key of this shop: made on the first start, kept outside git, readable by its owner only."""

from __future__ import annotations

import contextlib
import os
import secrets
import tempfile
from pathlib import Path


def load_or_make_secret_key(path: Path) -> str:
    """Return the key in `path`, making it (mode 600) if it is not there."""
    if not path.exists():
        write_once(path, secrets.token_urlsafe(64).encode())
    return path.read_text().strip()


def write_once(path: Path, content: bytes) -> None:
    """Write a secret (mode 600) where none is yet, whole or not at all.

    Several processes may start at once: the first to link its draft into place wins, the others read that secret.
    """
    draft = _draft(path, content)
    with contextlib.suppress(FileExistsError):
        os.link(draft, path)
    os.unlink(draft)


def write_anew(path: Path, content: bytes) -> None:
    """Write a secret (mode 600) in the place of the one that is there, whole or not at all."""
    os.replace(_draft(path, content), path)


def _draft(path: Path, content: bytes) -> str:
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    descriptor, draft = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    with os.fdopen(descriptor, "wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
    return draft
