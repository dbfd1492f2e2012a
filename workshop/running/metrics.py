"""How many requests came, how long they took and how they ended, for a monitoring system that asks for it.

Counts stand under names of addresses, methods, statuses and kinds of error; nothing that a shop, a person or a stranger
typed is a label. The page is there where METRICS_TOKEN is set, for whoever sends that token, and a page that is not
found for everybody else. Several processes serve, so each counts into files of one folder, which are summed here.
"""

from __future__ import annotations

import shutil
from pathlib import Path

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.urls import URLPattern, path
from django.utils.crypto import constant_time_compare
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

COUNTED_IN = "PROMETHEUS_MULTIPROC_DIR"
"""The variable by which the server's processes are told where they count."""


@never_cache
@login_not_required
@require_safe
def metrics(request: HttpRequest) -> HttpResponse:
    """Everything counted since the server started, in the text format of Prometheus."""
    scheme, _, token = request.headers.get("Authorization", "").partition(" ")
    wanted = settings.METRICS_TOKEN
    if not wanted or scheme.lower() != "bearer" or not constant_time_compare(token.strip(), wanted):
        raise Http404
    from django_prometheus.exports import ExportToDjangoView  # only where somebody asked for it

    page: HttpResponse = ExportToDjangoView(request)
    return page


def metrics_address(token: str) -> list[URLPattern]:
    """Its address where there is a token, none otherwise."""
    return [path("metrics", metrics, name="metrics")] if token else []


def counting_environment() -> dict[str, str]:
    """What the processes of a server that starts now are told: an empty folder to count in; nothing without a token."""
    if not settings.METRICS_TOKEN:
        return {}
    folder = Path(settings.DATA_DIR) / "counts"
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(mode=0o700, parents=True)
    return {COUNTED_IN: str(folder)}
