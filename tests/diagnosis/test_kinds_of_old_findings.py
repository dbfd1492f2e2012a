"""Findings made before their kind was kept get the kind that they had: the cause where their step can find one."""

from __future__ import annotations

from importlib import import_module

import pytest
from django.apps import apps

from tests.factories import CauseFactory, RunFactory, StepFactory, TickFactory

pytestmark = pytest.mark.django_db
MIGRATION = import_module("diagnosis.migrations.0010_kinds_of_findings")


@pytest.mark.parametrize(
    ("ends_search", "cause", "kind"),
    [
        ({"cause-a": 0.5}, "cause-a", "cause"),
        ({"cause-a": 0.5}, None, "cause"),
        ({"cause-a": 0}, None, "by_the_way"),
        ({}, None, "by_the_way"),
        ({}, "cause-a", ""),
    ],
)
def test_a_finding_gets_the_kind_it_had(ends_search: dict[str, float], cause: str | None, kind: str) -> None:
    named = CauseFactory(key="cause-a")
    run = RunFactory()
    step = StepFactory(checklist=run.checklist, ends_search=ends_search)
    tick = TickFactory(run=run, step=step, outcome="found", cause=named if cause else None)
    ruled_out = TickFactory(run=run, step=step, outcome="ruled_out")
    for _ in range(2):  # run again it changes nothing
        MIGRATION.name_the_kinds(apps, None)
    tick.refresh_from_db()
    ruled_out.refresh_from_db()
    assert (tick.finding, ruled_out.finding) == (kind, "")


def test_what_was_said_since_stays(db: None) -> None:
    run = RunFactory()
    step = StepFactory(checklist=run.checklist, ends_search={"cause-a": 0.5})
    tick = TickFactory(run=run, step=step, outcome="found", finding="danger")
    MIGRATION.name_the_kinds(apps, None)
    tick.refresh_from_db()
    assert tick.finding == "danger"
