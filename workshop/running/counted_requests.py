"""django-prometheus’ middleware with no label that a stranger makes up. Loaded where METRICS_TOKEN is set only."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django_prometheus.middleware import PrometheusAfterMiddleware

_METHODS = frozenset({"GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS", "TRACE", "CONNECT"})
_NO_METHOD = "<invalid method>"


class CountedRequestsMiddleware(PrometheusAfterMiddleware):  # type: ignore[misc]  # it comes without types
    """One of its labels is the method as it was sent, and whoever makes up methods would fill memory with them."""

    def label_metric(
        self, metric: Any, request: HttpRequest, response: HttpResponse | None = None, **labels: str
    ) -> Any:
        if labels.get("method", "GET") not in _METHODS:
            labels["method"] = _NO_METHOD
        return super().label_metric(metric, request, response, **labels)
