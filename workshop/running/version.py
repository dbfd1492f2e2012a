"""Which version of the app this is."""

from __future__ import annotations

import datetime as dt
import functools
import tomllib
from pathlib import Path

from django.conf import settings

# The month of the newest heading in .readme/CHANGES.md: a clock that shows an earlier day is wrong.
NO_EARLIER_THAN = dt.date(2026, 11, 1)


@functools.cache
def app_version() -> str:
    """The version in pyproject.toml, the one place that has it."""
    project = tomllib.loads((Path(settings.BASE_DIR) / "pyproject.toml").read_text())["project"]
    return str(project["version"])
