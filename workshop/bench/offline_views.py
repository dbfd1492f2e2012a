"""What the tablet keeps to go on without a network: a worker in the browser, and the panels of a run."""

from __future__ import annotations

import hashlib
import json
from functools import lru_cache
from pathlib import Path
from typing import Any

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.template.loader import render_to_string
from django.templatetags.static import static
from django.urls import reverse
from django.views.decorators.gzip import gzip_page
from django.views.decorators.http import require_GET

from diagnosis.runs_rules import FOUND, NOTED, can_end_search
from workshop.bench.step_page import StepPage, every_step
from workshop.web.requests import ShopRequest
from workshop.web.roles import anyone_in_the_shop

_SOURCE = "js/bench-worker.js"
# What a page of the bench is made of.
_KINDS = {"css": "*.css", "js": "*.js", "vendor": "*.js", "fonts": "*.woff2", "img": "*.svg"}
_OF_OTHER_AREAS = frozenset(
    {_SOURCE, "js/counter-keys.js", "js/sums.js", "js/trust.js", "img/app-icon.svg"}
    | {f"css/{name}.css" for name in ("counter", "portal", "reminders", "specs", "sums", "trust")}
)


@require_GET
@login_not_required
def worker(request: HttpRequest) -> HttpResponse:
    """The service worker, with the files it keeps. It may see every page, to notice who signs out."""
    response = HttpResponse(_worker_script(), content_type="text/javascript; charset=utf-8")
    response["Service-Worker-Allowed"] = "/"
    response["Cache-Control"] = "no-cache"
    return response


@gzip_page
@require_GET
@anyone_in_the_shop
def panels(request: ShopRequest, number: int, run_pk: int) -> HttpResponse:
    """Every step of a run as the tablet shows it while it is cut off, in one answer.

    The drawing of the spring is left out: it would be most of the weight.
    """
    pages = every_step(request, number, run_pk)
    first = pages[0]
    # What is answered without a connection moves the unit on, so no kept page says how it is or what can be done.
    shown = first.context() | {"form": first.form(), "spring": None, "new_id": "", "unit_now": [], "left_out": []}
    return JsonResponse(
        {
            "version": first.run_state.version,
            "run": reverse("bench:run", args=[number, run_pk]),
            "suggested": first.standing.planned.in_suggested_order,
            "shell": render_to_string("bench/_work.html", shown, request),
            "order": [state.key for state in first.standing.planned.listed],
            "steps": {page.state.key: _panel(request, page) for page in pages},
        }
    )


def _panel(request: ShopRequest, page: StepPage) -> dict[str, Any]:
    step = page.state.step
    context = page.context() | {"form": page.form(), "spring": None, "new_id": "", "evidence": []}
    return {
        "title": step.title,
        "kind": step.kind,
        "needs": sorted(page.needs),
        "leads": _leads(page),
        "outcome": page.run_state.outcomes.get(page.state.key, ""),
        "ends": can_end_search(step),
        "html": render_to_string("bench/_step_card.html", context, request),
    }


def _leads(page: StepPage) -> dict[str, str]:
    """Where each answer leads; what is noted beside the cause leads on only where the step can find none."""
    step = page.state.step
    leads = {outcome: answer["next"] for outcome, answer in step.answers.items() if answer.get("next")}
    if FOUND in leads and not can_end_search(step):
        leads[NOTED] = leads[FOUND]
    return leads


@lru_cache(maxsize=1)
def _kept_script() -> str:
    folder = Path(settings.BASE_DIR) / "static"
    names = sorted(f"{kind}/{path.name}" for kind, pattern in _KINDS.items() for path in (folder / kind).glob(pattern))
    shown = [name for name in names if name not in _OF_OTHER_AREAS]
    source = (folder / _SOURCE).read_text()
    content = hashlib.sha256(source.encode())
    for name in shown:
        content.update((folder / name).read_bytes())
    shop = {
        "version": content.hexdigest()[:12],
        "files": [static(name) for name in shown],
        "statics": settings.STATIC_URL,
        "home": reverse("home"),
        "signIn": reverse("sign_in"),
        "signOut": reverse("sign_out"),
        "bench": reverse("bench:board"),
    }
    return f"self.SHOP = {json.dumps(shop)};\n{source}"


def _worker_script() -> str:
    if settings.DEBUG:  # files change while somebody works on them
        _kept_script.cache_clear()
    return _kept_script()
