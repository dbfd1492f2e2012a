"""Every address of the project by its name."""

from __future__ import annotations

from collections.abc import Iterator

from django.urls import URLPattern, URLResolver, get_resolver


def every_route(resolver: URLResolver | None = None, prefix: str = "") -> Iterator[tuple[str, URLPattern]]:
    """Name with namespace and pattern of each route."""
    for pattern in (resolver or get_resolver()).url_patterns:
        if isinstance(pattern, URLResolver):
            yield from every_route(pattern, f"{prefix}{pattern.namespace}:" if pattern.namespace else prefix)
        else:
            yield f"{prefix}{pattern.name}", pattern


ROUTES = dict(every_route())


def parts_of(route: str) -> dict[str, object]:
    """The parts of a route's address, each with its converter."""
    return ROUTES[route].pattern.converters
