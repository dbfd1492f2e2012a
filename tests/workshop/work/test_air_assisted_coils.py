"""A coil with air assist is never computed as an air spring, whatever geometry its model has."""

from __future__ import annotations

import pytest

from diagnosis.models import Run
from diagnosis.runs_state import state_of
from specs.lookup import GeometryGap, spring_geometry
from specs.models import SuspensionModel
from tests.factories import (
    RunFactory,
    ShopFactory,
    SuspensionModelFactory,
    SuspensionUnitFactory,
    TicketFactory,
    TicketRunFactory,
)
from tests.known import known
from tests.shipped import shipped_checklist
from workshop.sums.forms.spring import SpringForm
from workshop.suspension.measuring import CannotMeasure, fitting_diameters
from workshop.work.judging import evidence_for
from workshop.work.spring import spring_of
from workshop.work.work import fork_values

pytestmark = pytest.mark.django_db


@pytest.fixture
def model() -> SuspensionModel:
    made: SuspensionModel = SuspensionModelFactory(spring_kind="air_coil", self_equalising=None)
    return made


def test_its_model_has_no_spring_to_be_calculated(model: SuspensionModel) -> None:
    gap = spring_geometry(model, 0.140)
    assert isinstance(gap, GeometryGap)
    assert gap.reason == "Only the air spring of a fork is calculated."


def test_a_fork_noted_as_one_is_not_calculated_by_its_air_model() -> None:
    unit = SuspensionUnitFactory(model=SuspensionModelFactory(self_equalising=None), spring_kind="air_coil")
    assert spring_of(unit) is None
    with pytest.raises(CannotMeasure, match="Only the air spring"):
        fitting_diameters(unit, {})


def test_nor_is_the_can_of_a_shock() -> None:
    unit = SuspensionUnitFactory(model=SuspensionModelFactory(shock=True), kind="shock", spring_kind="air_coil")
    assert known(unit.travel_m) > 0
    assert fork_values(TicketFactory(unit=unit)).can is None


def test_its_rest_depth_is_held_against_neither_spring() -> None:
    unit = SuspensionUnitFactory(model=SuspensionModelFactory(self_equalising=None), spring_kind="air_coil")
    ticket = TicketFactory(unit=unit, state="on_the_bench")
    for spring_kind, says in (("air_coil", False), ("coil", True), ("air", True)):
        facts = {**unit.facts(), "spring_kind": spring_kind}
        run = RunFactory(checklist=shipped_checklist("sits-low"), facts=facts)
        TicketRunFactory(ticket=ticket, run=run)
        state = state_of(Run.objects.get(pk=run.pk))
        found = evidence_for(ticket, fork_values(ticket), state, state.by_key["prove-rest"], {"rest_travel": "60 mm"})
        assert bool(found) == says, spring_kind


def test_it_is_no_model_for_the_sum_of_an_air_spring() -> None:
    made = SuspensionModelFactory(spring_kind="air_coil", self_equalising=None, name="Fathom of a test")
    air = SuspensionModelFactory(name="Air of a test")
    form = SpringForm(None, shop=ShopFactory())
    offered = set(form.fields["model"].queryset)  # type: ignore[attr-defined]
    assert air in offered
    assert made not in offered
