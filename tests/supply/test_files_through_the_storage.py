"""Photos, documents and other files are reached through the storage alone: in a bucket they have no path."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.apps import apps
from django.db import models

ROOT = Path(__file__).parents[2]
# Where the folder itself is meant: each says what it does where the files lie in a bucket.
KNOWS_THE_FOLDER = {
    "workshop/settings.py": "where it is",
    "workshop/web/storage.py": "it is the storage of that folder",
    "workshop/running/stored.py": "names the place for a person: the bucket, where there is one",
    "workshop/running/restore.py": "unpacks a backup beside it, on this machine's disk, and puts it in by the storage",
    "workshop/running/preflight/folders.py": "looks at it where there is no bucket",
    "workshop/running/standing.py": "looks at it where there is no bucket",
}
pytestmark = pytest.mark.any_database


def columns_of_files() -> set[str]:
    """Names of the columns that hold the name of a stored file."""
    return {
        field.name
        for model in apps.get_models()
        for field in model._meta.local_concrete_fields
        if isinstance(field, models.FileField)
    }


def past_the_storage(source: str, columns: set[str]) -> Iterator[str]:
    """What in some code reaches files by where they lie."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Attribute) and node.attr in {"MEDIA_ROOT", "location"}:
            yield node.attr
        elif isinstance(node, ast.Constant) and node.value == "MEDIA_ROOT":
            yield "MEDIA_ROOT"
        elif isinstance(node, ast.Name) and node.id in {"MEDIA_ROOT", "FileSystemStorage"}:
            yield node.id
        elif isinstance(node, ast.Attribute) and node.attr in {"path", "url"}:
            of = node.value.attr if isinstance(node.value, ast.Attribute) else getattr(node.value, "id", "")
            if of in columns or "storage" in of:
                yield f"{of}.{node.attr}"


def test_nothing_goes_past_the_storage() -> None:
    columns = columns_of_files()
    assert {"file", "thumbnail", "pdf", "certificate"} <= columns
    found = {}
    for folder in ("workshop", "diagnosis", "specs"):
        for path in (ROOT / folder).rglob("*.py"):
            if "migrations" not in path.parts and (reached := sorted(past_the_storage(path.read_text(), columns))):
                found[path.relative_to(ROOT).as_posix()] = reached
    assert found.keys() - KNOWS_THE_FOLDER.keys() == set(), found
    assert found.keys() >= KNOWS_THE_FOLDER.keys()  # who does so no more is taken off the list


@pytest.mark.parametrize(
    "planted",
    [
        "open(settings.MEDIA_ROOT / name)",
        "getattr(settings, 'MEDIA_ROOT')",
        "default_storage.path(name)",
        "photo.file.path",
        "document.pdf.url",
        "FileSystemStorage('/srv')",
        "Path(default_storage.location)",
    ],
)
def test_each_way_past_it_is_seen(planted: str) -> None:
    assert list(past_the_storage(planted, {"file", "pdf"}))


def test_other_paths_are_none_of_it() -> None:
    assert not list(past_the_storage("request.path; made.path; urlsplit(link).path; row.file.name", {"file"}))
