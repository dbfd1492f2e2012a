"""Findings made before their cause was kept get the cause their step names, and no other."""

from __future__ import annotations

from importlib import import_module

import pytest
from django.apps import apps

from tests.factories import CauseFactory, RunFactory, StepFactory, TickFactory

pytestmark = pytest.mark.django_db
MIGRATION = import_module("diagnosis.migrations.0003_name_the_causes_already_found")


@pytest.mark.parametrize(
    ("ends_search", "named", "kept"),
    [
        ({"cause-a": 0.5, "cause-b": 0.2}, "cause-b", "cause-b"),
        ({"cause-a": 0.5}, None, "cause-a"),
        ({"cause-a": 0.5, "cause-b": 0.2}, None, None),
        ({}, None, None),
        ({"gone": 0.5}, None, None),
    ],
)
def test_a_finding_gets_the_cause_its_step_names(
    ends_search: dict[str, float], named: str | None, kept: str | None
) -> None:
    for key in ("cause-a", "cause-b"):
        CauseFactory(key=key)
    run = RunFactory()
    step = StepFactory(checklist=run.checklist, ends_search=ends_search, answers={"found": {"cause": named}})
    tick = TickFactory(run=run, step=step, outcome="found")
    ruled_out = TickFactory(run=run, step=step, outcome="ruled_out")
    MIGRATION.name_causes(apps, None)
    tick.refresh_from_db()
    ruled_out.refresh_from_db()
    assert (tick.cause and tick.cause.key) == kept
    assert ruled_out.cause is None
