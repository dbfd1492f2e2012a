"""Rules hold in the database itself, whoever writes; rows from before a rule are set right, and nothing is lost."""

from __future__ import annotations

import datetime as dt
import importlib
import json
import uuid
from typing import Any

import pytest
from django.apps import apps
from django.core.management import call_command
from django.db import IntegrityError, connection, models, transaction

from diagnosis.models import StepTimer
from diagnosis.runs import tick
from diagnosis.runs_timers import stop_timer
from specs.models import MendedValue
from tests import factories as make
from tests.workshop.rules_broken import BROKEN, EARLIER, NOW, Broken, change_past_all_functions
from workshop.kept.models import UnitChanged

RULES = [
    rule
    for module in (
        "specs.migrations.0005_rules_of_values_and_parts",
        "diagnosis.migrations.0007_rules_of_runs_and_timers",
        "workshop.migrations._rules_of_0028",
    )
    for rule in importlib.import_module(module).RULES
]
BEFORE = {
    "workshop": "0027_logbook_words_into_keys",
    "diagnosis": "0006_what_steps_require_open_and_leave",
    "specs": "0004_legs_named_for_spring_and_damper",
}


def _id(case: Broken) -> str:
    return f"{case.rule}-{next(iter(case.bad))}"


def test_each_rule_is_broken_here_and_is_of_its_model() -> None:
    names = {rule.name for rule in RULES}
    assert names == {case.rule for case in BROKEN}
    for rule in RULES:
        assert rule.name in {constraint.name for constraint in apps.get_model(rule.model)._meta.constraints}


@pytest.mark.django_db
@pytest.mark.parametrize("case", BROKEN, ids=_id)
def test_the_database_refuses_it_past_all_functions(case: Broken) -> None:
    row = case.made()
    with pytest.raises(IntegrityError) as refused, transaction.atomic():
        change_past_all_functions(row, case.bad)
    said = str(refused.value)
    assert case.rule in said or "UNIQUE constraint failed" in said


@pytest.mark.django_db(transaction=True)
def test_rows_from_before_are_set_right_and_kept_as_they_were(capsys: pytest.CaptureFixture[str]) -> None:
    made = [(case, case.made()) for case in BROKEN]
    doubled = make.TicketFactory()
    lost_beside = make.TicketFactory(unit=doubled.unit, shop=doubled.shop, customer=doubled.customer, state="ready",
                                     doubled_at=doubled.booked_at)  # fmt: skip
    numbered = make.SpecValueFactory(number=1, is_current=False)
    beside = make.SpecValueFactory(model=numbered.model, number=2)
    made_anew = {MendedValue, UnitChanged}  # the second is what the due list has still to work out
    untouched = {model: model._default_manager.count() for model in apps.get_models() if model not in made_anew}
    try:
        for app, name in BEFORE.items():
            call_command("migrate", app, name, verbosity=0)
        for case, row in made:
            _write(row, case.bad)
        _write(lost_beside, {"state": "lost", "doubled_at": None})
        _write(beside, {"number": 0})
        capsys.readouterr()
    finally:
        call_command("migrate", verbosity=0)
    said = capsys.readouterr().out
    for case, row in made:
        row.refresh_from_db()
        assert {field: getattr(row, field) for field in case.mended} == dict(case.mended), case
        kept = MendedValue.objects.filter(rule=case.rule, table=row._meta.label_lower, row=row.pk)
        assert {entry.field for entry in kept} >= set(case.mended) & _changed(case, row), case
        assert kept, case
        assert case.rule in said, case
    for entry in MendedValue.objects.all():
        assert json.loads(entry.was) != json.loads(entry.became)
    lost_beside.refresh_from_db()
    beside.refresh_from_db()
    assert (lost_beside.state, lost_beside.doubled_at is not None, beside.number) == ("booked_in", True, 2)
    assert {model: model._default_manager.count() for model in untouched} == untouched
    again = MendedValue.objects.count()
    call_command("migrate", verbosity=0)
    assert MendedValue.objects.count() == again


@pytest.mark.django_db
def test_a_timer_stopped_by_a_clock_that_lags_ran_for_no_time() -> None:
    run = make.RunFactory()
    step = make.StepFactory(checklist=run.checklist)
    timer = StepTimer.objects.create(run=run, step=step, seconds=60, started_at=NOW)
    stop_timer(run=run, client_id=timer.client_id, stopped_at=EARLIER)
    timer.refresh_from_db()
    assert timer.stopped_at == NOW


@pytest.mark.django_db
def test_a_run_answered_by_a_clock_that_lags_ends_when_it_began() -> None:
    run = make.RunFactory()
    step = make.StepFactory(checklist=run.checklist)
    tick(
        run=run, step_key=step.key, outcome="ruled_out", by=None, seen_version=run.version, client_id=uuid.uuid4(),
        ticked_at=run.started_at - dt.timedelta(minutes=9),
    )  # fmt: skip
    run.refresh_from_db()
    assert run.ended_at == run.started_at


def _changed(case: Broken, row: models.Model) -> set[str]:
    """The fields of which the mended value is another than the broken one."""
    return {field for field, value in case.mended.items() if field in case.bad and case.bad[field] != value}


def _write(row: models.Model, changed: dict[str, Any] | Any) -> None:
    """As rows were before: in plain SQL, as the table may have other columns than the model."""
    with connection.cursor() as cursor:
        for name, value in changed.items():
            field: Any = row._meta.get_field(name.removesuffix("_id") if name.endswith("_by_id") else name)
            raw = field.get_db_prep_save(value, connection)
            sql = f'UPDATE {row._meta.db_table} SET "{field.column}" = %s WHERE id = %s'  # noqa: S608  our own names
            cursor.execute(sql, [raw, row.pk])
