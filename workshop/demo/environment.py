"""Where the demo keeps its things: apart from a real shop's, and over plain HTTP on this machine only."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path


def prepare_environment(argv: Sequence[str]) -> None:
    """Before the settings are read: `manage.py demo` works in .demo unless DATA_DIR says otherwise."""
    if argv[1:2] == ["demo"]:
        os.environ.setdefault("DATA_DIR", str(Path(__file__).resolve().parents[2] / ".demo"))
        os.environ.setdefault("HTTPS", "0")
