"""Rules hold in the database itself, whoever writes; rows from before a rule are set right, and nothing is lost."""

from __future__ import annotations

import importlib
import json
import uuid
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from django.apps import apps
from django.core.management import call_command
from django.db import IntegrityError, connection, models, transaction
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from diagnosis.runs import tick
from specs.models import MendedValue
from tests import factories as make
from tests.workshop.rules_broken import BROKEN, Broken, change_past_all_functions
from workshop.customers.adding import add_customer
from workshop.kept.models import UnitChanged
from workshop.stock.moving import receive
from workshop.suspension.adding import add_unit
from workshop.tickets.booking import AgreedAtBooking, book_in
from workshop.tickets.settings_record import Settings
from workshop.torque.bolts import record_bolt

RULES = [
    rule
    for module in (
        "specs.migrations.0005_rules_of_values_and_parts",
        "specs.migrations.0007_kinds_of_unit",
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
        constraints = {constraint.name: constraint for constraint in apps.get_model(rule.model)._meta.constraints}
        assert rule.name in constraints
        # A clock is set back now and then: what it compares is a value with a bound, never a moment with a moment.
        assert "F(" not in repr(constraints[rule.name])


@pytest.mark.django_db
@pytest.mark.parametrize("case", BROKEN, ids=_id)
def test_the_database_refuses_it_past_all_functions(case: Broken) -> None:
    row = case.made()
    with pytest.raises(IntegrityError) as refused, transaction.atomic():
        change_past_all_functions(row, case.bad)
    said = str(refused.value)
    assert case.rule in said or "UNIQUE constraint failed" in said


@pytest.mark.long
@pytest.mark.django_db(transaction=True)
@pytest.mark.usefixtures("step_by_step")
def test_rows_from_before_are_set_right_and_kept_as_they_were(capsys: pytest.CaptureFixture[str]) -> None:
    made = [(case, case.made()) for case in BROKEN]
    doubled = make.TicketFactory()
    lost_beside = make.TicketFactory(unit=doubled.unit, shop=doubled.shop, customer=doubled.customer, state="ready",
                                     doubled_at=doubled.booked_at)  # fmt: skip
    numbered = make.SpecValueFactory(number=1, is_current=False)
    beside = make.SpecValueFactory(model=numbered.model, number=2)
    asked_for = {
        words: make.PartLineFactory(part=None, words=words, source=source)
        for words, source in (("Foam ring", "finding"), ("Top cap seal", "finding"), ("Wiper", "by_hand"))
    }
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
    for line in asked_for.values():
        line.refresh_from_db()
    assert {words: line.role for words, line in asked_for.items()} == {
        "Foam ring": "foam_ring", "Top cap seal": "top_cap_seal", "Wiper": "",
    }  # fmt: skip
    again = MendedValue.objects.count()
    call_command("migrate", verbosity=0)
    assert MendedValue.objects.count() == again


def _book_in() -> object:
    unit = make.SuspensionUnitFactory()
    return book_in(
        shop=unit.shop, by=None, customer=unit.customer, unit=unit,
        agreement=AgreedAtBooking("Sits low", timezone.localdate(), arrival=Settings(pressure_pa=500_000.0)),
    )  # fmt: skip


def _tick() -> object:
    run = make.RunFactory()
    step = make.StepFactory(checklist=run.checklist)
    return tick(
        run=run, step_key=step.key, outcome="ruled_out", by=None, seen_version=run.version, client_id=uuid.uuid4()
    )


def _tighten() -> object:
    return record_bolt(
        ticket=make.TicketFactory(), bolt="axle", typed="12", by=make.UserFactory(), client_id=uuid.uuid4()
    )


HOT = {
    "tick": _tick,
    "bolt": _tighten,
    "customer": lambda: add_customer(shop=make.ShopFactory(), by=None, name="Mara Quill", phone="0555 1"),
    "unit": lambda: add_unit(customer=make.CustomerFactory(), described_as="A fork", travel_m=0.17),
    "booking": _book_in,
    "movement": lambda: receive(item=make.StockItemFactory(), quantity=Decimal(3), by=None),
}


@pytest.mark.django_db
@pytest.mark.parametrize("write", HOT.values(), ids=HOT)
def test_what_is_written_all_day_asks_no_constraint(write: Callable[[], object]) -> None:
    """`full_clean()` asks each with a statement of its own; here functions and fields in front have judged already."""
    with CaptureQueriesContext(connection) as asked:
        write()
    assert asked.captured_queries
    assert not [query["sql"] for query in asked.captured_queries if '"_check"' in query["sql"]]


@pytest.mark.django_db
def test_full_clean_asks_a_constraint_with_a_statement() -> None:
    """What the test above looks for is what Django asks."""
    photo = make.PhotoFactory()
    with CaptureQueriesContext(connection) as asked:
        photo.validate_constraints()
    assert [query["sql"] for query in asked.captured_queries if '"_check"' in query["sql"]]


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
