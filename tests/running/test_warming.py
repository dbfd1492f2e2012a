"""A process of the server has read its screens and templates before the first request comes."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from django.conf import settings

LOOKS = """
import sys
from workshop import wsgi
from django.conf import settings
from django.template import engines
(loader,) = engines["django"].engine.template_loaders
folder = settings.BASE_DIR / "templates"
wanted = {path.relative_to(folder).as_posix() for path in folder.rglob("*.html")}
screens = {"workshop.bench.step_views", "workshop.office.urls"}
print(sorted(wanted - set(loader.get_template_cache)), screens <= set(sys.modules))
"""


def test_screens_and_templates_are_read_before_the_first_request(tmp_path: Path) -> None:
    environment = {**os.environ, "DATA_DIR": str(tmp_path), "DEBUG": "0", "DJANGO_SETTINGS_MODULE": "workshop.settings"}
    done = subprocess.run(
        [sys.executable, "-c", LOOKS], cwd=settings.BASE_DIR, env=environment, capture_output=True, text=True
    )
    assert done.stdout.strip() == "[] True", done.stderr[-2000:]
