"""Answers above 499 that are meant so, and are no error of the shop's: the log and System leave them out."""

from __future__ import annotations

from django.http import HttpResponse


def as_no_error(answer: HttpResponse) -> HttpResponse:
    """The same answer, marked by Django's own note that it has been logged already."""
    answer._has_been_logged = True  # type: ignore[attr-defined]
    return answer
