"""Hose, mountain, weather and rounds of pumping."""

from __future__ import annotations

from dataclasses import replace

import pytest

from diagnosis.places import Carry, Place
from specs.lookup import GeometryGap
from specs.physics.errors import ImpossibleValue
from specs.units import show
from tests.physics.springs import SPRING
from workshop.sums.answer import Answer, Missing
from workshop.sums.pump import pump_sum

PSI = 6894.757293168361


def write(magnitude_si: float, dimension: str) -> str:
    return show(magnitude_si, dimension, {"pressure": "kPa", "volume": "ml"}[dimension])


def row(answer: Answer, label: str) -> str:
    return next(row.value for row in answer.rows if row.label == label)


def test_a_hose_takes_its_share() -> None:
    """Boyle: 500 kPa gauge in 100 ml, and a hose of 5 ml at ambient, share 500 × 100 / 105 = 476.2 kPa."""
    answer = pump_sum(pressure_pa=500e3, chamber_m3=100e-6, hose_m3=5e-6, write=write)
    assert row(answer, "Shown with the hose on") == "476 kPa"
    assert "nothing has leaked" in answer.words[0]


def test_up_a_mountain_the_gauge_shows_more() -> None:
    """ISO 2533: 101325 Pa at sea level, 79501.4 at 2000 m, so 21.8 kPa more on the gauge."""
    answer = pump_sum(pressure_pa=500e3, journey=Carry(Place(0.0), Place(2000.0)), write=write)
    assert row(answer, "Shown there") == "522 kPa"
    assert row(answer, "of that, altitude") == "+22 kPa"
    assert row(answer, "of that, temperature") == "0 kPa"
    assert row(answer, "Set here to have it there") == "478 kPa"


def test_in_the_cold_it_shows_less() -> None:
    """Gay-Lussac: (500 + 101.325) × 273.15 / 293.15 - 101.325 = 459.0 kPa."""
    answer = pump_sum(pressure_pa=500e3, journey=Carry(Place(), Place(0.0, 273.15)), write=write)
    assert row(answer, "Shown there") == "459 kPa"
    assert row(answer, "of that, temperature") == "−41 kPa"


def test_setting_what_is_said_here_gives_what_is_wanted_there() -> None:
    there = Carry(Place(200.0, 295.0), Place(2500.0, 268.0))
    answer = pump_sum(pressure_pa=500e3, journey=there, write=lambda value, dimension: f"{value!r}")
    back_pa = float(row(answer, "Set here to have it there"))
    again = pump_sum(pressure_pa=back_pa, journey=there, write=lambda value, dimension: f"{value!r}")
    assert float(row(again, "Shown there")) == pytest.approx(500e3)


def test_rounds_close_in_on_the_set_pressure() -> None:
    """By hand: the chambers share 180 ml at 601.325 kPa and 25 ml at ambient, over their volumes at the port."""
    answer = pump_sum(pressure_pa=500e3, spring=SPRING, write=write)
    shared = (601325 * 180e-6 + 101325 * 25e-6) / (SPRING.positive_at_port_m3 + SPRING.negative_at_port_m3)
    assert answer.tables[0].rows[0][1] == f"{(shared - 101325) / 1000:.0f} kPa"
    assert int(row(answer, "Rounds until it stays")) == len(answer.tables[0].rows)


def test_the_forks_chamber_serves_for_the_hose() -> None:
    answer = pump_sum(pressure_pa=500e3, hose_m3=5e-6, spring=SPRING, write=write)
    assert row(answer, "Chamber, extended") == "180 ml"


def test_above_the_maximum_is_refused() -> None:
    with pytest.raises(ImpossibleValue, match="maximum is 1200 kPa") as refused:
        pump_sum(pressure_pa=13e5, spring=SPRING, write=write)
    assert refused.value.field == "pressure_pa"


def test_above_the_maximum_on_the_mountain_is_warned_of() -> None:
    spring = replace(SPRING, max_pressure_pa=505e3)
    answer = pump_sum(pressure_pa=500e3, spring=spring, journey=Carry(Place(0.0), Place(2000.0)), write=write)
    assert any("above its maximum" in warning for warning in answer.warnings)


def test_missing_geometry_is_named_and_the_rest_still_worked_out() -> None:
    gap = GeometryGap(missing=("piston_bore", "port_travel"))
    answer = pump_sum(pressure_pa=500e3, chamber_m3=100e-6, hose_m3=5e-6, spring=gap, write=write)
    assert "air piston bore, transfer port" in answer.words[1]
    assert not answer.tables


def test_with_nothing_to_work_out_it_asks_for_something() -> None:
    with pytest.raises(Missing):
        pump_sum(pressure_pa=500e3, write=write)
