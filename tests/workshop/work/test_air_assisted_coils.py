"""A coil with air assist is never computed as an air spring, whatever geometry its model has."""

from __future__ import annotations

import pytest

from specs.lookup import GeometryGap, spring_geometry
from specs.models import SuspensionModel
from tests.factories import SuspensionModelFactory, SuspensionUnitFactory, TicketFactory
from tests.known import known
from workshop.suspension.measuring import CannotMeasure, drawing_of
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
        drawing_of(unit, {})


def test_nor_is_the_can_of_a_shock() -> None:
    unit = SuspensionUnitFactory(model=SuspensionModelFactory(shock=True), kind="shock", spring_kind="air_coil")
    assert known(unit.travel_m) > 0
    assert fork_values(TicketFactory(unit=unit)).can is None
