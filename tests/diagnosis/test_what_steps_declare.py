"""Stored versions and drafts from before say of themselves what was known of their steps by their keys."""

from __future__ import annotations

from importlib import import_module
from types import SimpleNamespace
from typing import Any

import pytest
from django.apps import apps
from django.db import connection

from diagnosis.declared import ASSUMED_UNLESS_READ, PULL, REST_PRESSURE
from diagnosis.loading import load_shipped
from diagnosis.models import Cause, Checklist, ChecklistDraft, Step
from diagnosis.stored import data_of
from tests.factories import ChecklistFactory, StepFactory
from tests.shipped import shipped_folder

pytestmark = pytest.mark.django_db
MIGRATION = import_module("diagnosis.migrations.0008_what_steps_declare")
DECLARED = ("closed_by", "services", "renews", "frees_port", "spring_answer", "readings")
SINCE = ASSUMED_UNLESS_READ | {REST_PRESSURE, PULL, "upper_crown_torque", "lower_crown_torque", "steerer_clamp_torque"}
NEW_DEPTH = "rest_now"
ENDS_LIFE_SINCE = {
    "air-into-damper", "damper-knock", "shock-damper-holds", "damper-top-out", "damper-holds-down",
    "damper-lock-fails", "damper-no-hold", "shock-damper-knock", "shock-oil-lost", "shock-gas-gone",
    "shock-damper-tired", "can-dry",
}  # fmt: skip
LISTS_THEN = (
    "harsh-or-sticky", "knocks-or-play", "loses-air", "no-rebound-control", "not-full-travel", "oil-at-seals",
    "routine-lowers-service", "shock-air-can-service", "shock-loses-air", "shock-sits-low", "sits-low", "tops-out",
)  # fmt: skip
EMPTY: dict[str, Any] = {"closed_by": "", "services": [], "renews": [], "frees_port": "", "spring_answer": False}


@pytest.fixture(autouse=True)
def _readings_since(monkeypatch: pytest.MonkeyPatch) -> None:
    """No version from before has a reading that the shipped files got since; so that theirs can be compared whole."""
    since = {
        reading.key: (reading.measures, reading.quantity)
        for plan in shipped_folder().checklists
        for step in plan.steps
        for reading in step.readings
        if reading.measures in SINCE or reading.key == NEW_DEPTH
    }
    assert not since.keys() & MIGRATION.MEASURES.keys()
    monkeypatch.setattr(MIGRATION, "MEASURES", MIGRATION.MEASURES | since)
    monkeypatch.setattr(MIGRATION, "RENEWS", {**MIGRATION.RENEWS, "bushings-renewed": "bushings"})
    ended_since = {
        cause.key: cause.ends_life[0]
        for plan in shipped_folder().checklists
        for cause in plan.causes
        if cause.ends_life and cause.key in ENDS_LIFE_SINCE
    }
    assert ended_since.keys() == ENDS_LIFE_SINCE
    monkeypatch.setattr(MIGRATION, "ENDS_LIFE", MIGRATION.ENDS_LIFE | ended_since)


def migrate() -> None:
    MIGRATION.let_them_say(apps, SimpleNamespace(connection=connection))


def test_stored_versions_say_what_the_shipped_files_say() -> None:
    newer = {loaded.key for loaded in load_shipped()} - {*LISTS_THEN}
    Checklist.objects.filter(key__in=newer).delete()  # no version of theirs is from before
    steps = {step.pk: step for step in Step.objects.all()}
    ends_life = dict(Cause.objects.values_list("key", "ends_life"))
    for step in Step.objects.all():
        readings = [{name: value for name, value in one.items() if name != "measures"} for one in step.readings]
        Step.objects.filter(pk=step.pk).update(**EMPTY, readings=readings)
    Cause.objects.update(ends_life=[])
    migrate()
    for step in Step.objects.all():
        was = steps[step.pk]
        assert {name: getattr(step, name) for name in DECLARED} == {name: getattr(was, name) for name in DECLARED}
    assert dict(Cause.objects.values_list("key", "ends_life")) == ends_life
    assert {loaded.key for loaded in load_shipped() if loaded.is_new} == newer


def test_a_step_of_another_kind_under_such_a_key_says_nothing() -> None:
    step = StepFactory.create(
        checklist=ChecklistFactory.create(), key="lowers-off", readings=[{"key": "sag", "quantity": "force"}]
    )
    migrate()
    step.refresh_from_db()
    assert {name: getattr(step, name) for name in EMPTY} == EMPTY | {"spring_answer": True}
    assert step.readings == [{"key": "sag", "quantity": "force", "measures": ""}]


@pytest.mark.parametrize("key", ["sits-low", "no-rebound-control", "shock-air-can-service"])
def test_a_draft_says_so_too_and_twice_is_once(key: str) -> None:
    whole = data_of(shipped_folder().checklist(key))
    old = data_of(shipped_folder().checklist(key))
    for step in old["steps"]:
        for name in EMPTY:
            step.pop(name, None)
        for reading in step.get("readings", []):
            reading.pop("measures", None)
    for cause in old["causes"]:
        cause.pop("ends_life", None)
    draft = ChecklistDraft.objects.create(key=key, data=old)
    for _ in range(2):
        migrate()
        draft.refresh_from_db()
        assert draft.data == whole
