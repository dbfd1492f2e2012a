"""From every state that a shop may be in between its first step and today's, the rest of the way leads to today."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder

from tests.running.machines import sqlite_at
from workshop.running.databases import default_is

Node = tuple[str, str]


def steps_in_some_order(chance: random.Random) -> list[Node]:
    """Every step there ever was, each after those it builds on; the squashed ones left out."""
    loader = MigrationLoader(None, replace_migrations=False)
    squashed = set(loader.replacements)
    left = {
        key: {one.key for one in node.parents} for key, node in loader.graph.node_map.items() if key not in squashed
    }
    order: list[Node] = []
    pace = {app: chance.random() ** 3 for app, _ in sorted(left)}  # one app may be far ahead of another
    while left:
        ready = sorted(key for key, parents in left.items() if parents <= set(order))
        (key,) = chance.choices(ready, [pace[app] for app, _ in ready])
        order.append(key)
        del left[key]
    return order


@pytest.mark.django_db
@pytest.mark.parametrize("seed", range(8))
def test_from_every_state_the_rest_leads_to_today(seed: int, tmp_path: Path) -> None:
    chance = random.Random(seed)
    order = steps_in_some_order(chance)
    assert len(order) > 100
    wrapper = sqlite_at(tmp_path / "shop.sqlite3")
    with default_is(wrapper):
        recorder = MigrationRecorder(wrapper)
        recorder.ensure_schema()
        for at, (app, name) in enumerate(order):
            recorder.record_applied(app, name)
            if chance.random() < 0.75 and at + 1 < len(order):
                continue
            MigrationExecutor(wrapper).check_replacements()  # as after each migrating
            executor = MigrationExecutor(wrapper)
            executor.loader.check_consistent_history(wrapper)
            plan = executor.migration_plan(executor.loader.graph.leaf_nodes())
            there = set(order[: at + 1])
            gone_through: list[Node] = []
            for migration, backwards in plan:
                assert not backwards
                gone_through += migration.replaces or [(migration.app_label, migration.name)]
            assert not there.intersection(gone_through)  # nothing is made twice
            assert there.union(gone_through) == set(order)  # and nothing left out
    wrapper.close()
