"""The tables of the shop as the database has them now, which may be some migrations behind the code."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from django.db import models
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.migrations.loader import MigrationLoader

# Whoever is signed in signs in again after a restore: a stolen backup opens no session. The due list is made anew. What
# ran when, and which key is shared, is of the machines there; a backup would hold its own run without an end.
LEFT_OUT = frozenset({
    "sessions.session", "workshop.opensession", "workshop.dueunit", "workshop.unitchanged", "workshop.scheduledrun",
    "workshop.sharedkey",
})  # fmt: skip
MigrationNames = dict[str, list[str]]
Field = models.Field[Any, Any]


class NewerDatabase(Exception):
    """Migrations that this version of the code does not know."""

    def __init__(self, unknown: Iterable[tuple[str, str]]) -> None:
        self.unknown = sorted(unknown)
        names = ", ".join(f"{app} {name}" for app, name in self.unknown[:3])
        super().__init__(f"It was made by a newer version of this app: the migration {names} is not known here.")


def applied_migrations(wrapper: BaseDatabaseWrapper) -> MigrationNames:
    """Names of the migrations the database has, by app. Raises NewerDatabase for those of a newer version."""
    loader = MigrationLoader(wrapper)
    applied: MigrationNames = {}
    for app, name in sorted(loader.applied_migrations):
        if app in loader.migrated_apps:
            applied.setdefault(app, []).append(name)
    known_nodes(loader, applied)
    return applied


def open_migrations(wrapper: BaseDatabaseWrapper) -> list[str]:
    """Migrations of the code that the database does not have yet."""
    loader = MigrationLoader(wrapper)
    return [f"{app} {name}" for app, name in sorted(loader.graph.nodes) if (app, name) not in loader.applied_migrations]


def loader_to(wrapper: BaseDatabaseWrapper, names: Mapping[str, Iterable[str]]) -> MigrationLoader:
    """A loader that knows the way to these migrations: not by a squashed one that goes further than they do."""
    loader = MigrationLoader(wrapper)
    wanted = _as_nodes(names)
    if not all(wanted.issuperset(squashed.replaces) for squashed in loader.replacements.values()):
        loader.replace_migrations = False  # type: ignore[attr-defined]  # it keeps its argument
        loader.build_graph()
    return loader


def known_nodes(loader: MigrationLoader, names: Mapping[str, Iterable[str]]) -> list[tuple[str, str]]:
    """The migrations as nodes of the loader's graph; a squashed one stands for all that it replaced.

    Raises NewerDatabase for those of a newer version.
    """
    wanted = _as_nodes(names)
    replaced = {old for migration in loader.replacements.values() for old in migration.replaces}
    unknown = wanted - set(loader.graph.nodes) - replaced
    if unknown:
        raise NewerDatabase(unknown)
    if loader.replace_migrations:  # type: ignore[attr-defined]
        wanted |= {key for key, squashed in loader.replacements.items() if wanted.issuperset(squashed.replaces)}
    else:
        wanted -= loader.replacements.keys()
    return sorted(wanted & set(loader.graph.nodes))


def _as_nodes(names: Mapping[str, Iterable[str]]) -> set[tuple[str, str]]:
    return {(app, name) for app, of_app in names.items() for name in of_app}


def latest_of_each_app(loader: MigrationLoader, nodes: Iterable[tuple[str, str]]) -> list[tuple[str, str]]:
    """The nodes that no other of the same app builds on: what `migrate` takes as targets."""
    there = set(nodes)
    graph = loader.graph.node_map
    return sorted(
        node
        for node in there
        if not any(child.key in there and child.key[0] == node[0] for child in graph[node].children)
    )


def models_at(loader: MigrationLoader, nodes: list[tuple[str, str]]) -> dict[str, type[models.Model]]:
    """Every table of the database at these migrations as a model of that time, by label in lower case."""
    found = loader.project_state(nodes).apps.get_models(include_auto_created=True)
    kept = (model for model in found if model._meta.managed and not model._meta.proxy)
    return {model._meta.label_lower: model for model in sorted(kept, key=lambda model: model._meta.label_lower)}


def columns_of(model: type[models.Model]) -> dict[str, Field]:
    """Column name to field, in the order of the names; computed columns are left to the database."""
    fields = [field for field in model._meta.local_concrete_fields if not getattr(field, "generated", False)]
    return {field.column: field for field in sorted(fields, key=lambda field: field.column or "") if field.column}
