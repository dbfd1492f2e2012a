"""The bench names as missing what such a unit has, and not what it lacks or seldom has."""

from __future__ import annotations

import pytest

from tests.factories import SpecValueFactory, SuspensionModelFactory, SuspensionUnitFactory, TicketFactory
from workshop.work.work import fork_values

pytestmark = pytest.mark.django_db
ASKED = ["max_pressure", "max_pressure_ramp", "upper_crown_torque", "seal_head_torque", "foot_torque_air_leg"]


def labels(**facts: object) -> list[str]:
    model = SuspensionModelFactory(**facts)
    SpecValueFactory(model=model, quantity="seal_head_torque", magnitude_si=28.0, typed="28 N·m")
    ticket = TicketFactory(unit=SuspensionUnitFactory(model=model))
    return [shown.label for shown in fork_values(ticket).written(ASKED, ticket.shop)]


def test_of_a_usual_fork() -> None:
    said = labels(crowns="single", ramp_chamber=False)
    assert [label.split(",")[0] for label in said] == ["Maximum pressure", "Foot fastener", "Threaded seal head"]


def test_of_a_fork_with_two_crowns_and_a_ramp_up_chamber_that_has_no_value_yet() -> None:
    said = labels(crowns="twin", ramp_chamber=True)
    assert "Upper crown, clamps of the legs" in said
    assert "Maximum pressure, ramp-up chamber" in said
