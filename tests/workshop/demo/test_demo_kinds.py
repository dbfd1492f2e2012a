"""The demo has a ticket of each kind of unit, with values that fit it."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from pytest_django.plugin import DjangoDbBlocker

from diagnosis.coverage import OWN_KINDS
from specs.facts import FactValue
from tests.known import known
from tests.made_once import made_once
from workshop.demo.kinds import KINDS
from workshop.demo.making import make_demo
from workshop.models import SettingsRecord, Ticket
from workshop.work.work import fork_values, not_covered, run_states


@pytest.fixture(scope="module", autouse=True)
def _demo(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[None]:
    with made_once(django_db_blocker):
        make_demo()
        yield


def _tickets() -> list[Ticket]:
    return list(Ticket.objects.select_related("unit__model", "shop").order_by("pk"))


def test_there_is_a_ticket_of_each_kind() -> None:
    there: set[tuple[str, FactValue | None]] = {pair for one in _tickets() for pair in one.unit.facts().items()}
    wanted: set[tuple[str, FactValue | None]] = {
        *OWN_KINDS, ("self_equalising", False), ("remote", "cable"), ("reservoir", "inline"),
        ("reservoir", "piggyback"), ("spring_kind", "coil"), ("kind", "shock"),
    }  # fmt: skip
    assert wanted <= there
    kinds = [one for one in _tickets() if one.unit.model and one.unit.model.name in KINDS]
    assert sorted(known(one.unit.model).name for one in kinds) == sorted(KINDS)
    assert all(one.unit.notes == "Demo data, invented." for one in kinds)
    assert any(one.unit.kind == "shock" and one.unit.facts()["spring_kind"] == "coil" for one in kinds)


def test_no_coil_has_a_pressure_and_no_chamber_more_than_its_maximum() -> None:
    records = SettingsRecord.objects.select_related("ticket__unit__model")
    assert records.filter(ticket__unit__model__spring_kind="coil").count() > 2
    for record in records:
        if record.ticket.unit.facts().get("spring_kind") == "coil":
            assert (record.pressure_pa, record.spacers) == (None, None), record.ticket
        elif record.pressure_pa is not None:
            most = fork_values(record.ticket).max_pressure_pa
            assert most is None or 0 < record.pressure_pa <= most, record.ticket


def test_no_sag_is_more_than_half_of_the_travel() -> None:
    for record in SettingsRecord.objects.select_related("ticket__unit"):
        travel_m = record.ticket.unit.travel_m
        if travel_m is not None and record.sag_m is not None:
            assert 0 < record.sag_m < travel_m / 2, record.ticket


def test_each_is_begun_where_its_checklist_covers_it_and_only_there() -> None:
    for ticket in _tickets():
        if ticket.unit.model is not None and ticket.unit.model.name in KINDS:
            (complaint,) = ticket.complaints.all()
            checklists = list(complaint.checklists.filter(is_current=True))
            assert bool(run_states(ticket)) == (not not_covered(checklists, ticket.unit)), ticket
