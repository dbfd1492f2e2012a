"""What the first request would otherwise wait for: the screens' code and the templates, read once by each process."""

from __future__ import annotations

from django.conf import settings
from django.template import TemplateSyntaxError
from django.template.loader import get_template
from django.urls import reverse


def warm_up() -> None:
    """Import every screen and read every template, before the process takes its first request."""
    reverse("home")  # the first look-up of an address imports all of them
    folder = settings.BASE_DIR / "templates"
    for name in sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*.html")):
        try:
            get_template(name)
        except TemplateSyntaxError:  # the page that uses it says so; the others are served
            continue
