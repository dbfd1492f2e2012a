"""Which version of the app this is."""

from __future__ import annotations

import functools
import tomllib
from pathlib import Path

from django.conf import settings


@functools.cache
def app_version() -> str:
    """The version in pyproject.toml, the one place that has it."""
    project = tomllib.loads((Path(settings.BASE_DIR) / "pyproject.toml").read_text())["project"]
    return str(project["version"])
