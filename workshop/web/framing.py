"""Views that show a file of ours in a frame: a PDF in the browser's own viewer. No other page may have a frame."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Concatenate, ParamSpec, cast

from csp.constants import SELF
from csp.decorators import csp_update
from django.http import HttpRequest, HttpResponse

P = ParamSpec("P")
View = Callable[Concatenate[HttpRequest, P], HttpResponse]


def shows_frames(view: View[P]) -> View[P]:
    """Let the page of this view show what this server serves in a frame; outermost of its decorators."""
    return cast("View[P]", csp_update({"frame-src": [SELF]})(cast(Any, view)))
