from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from specs.physics import pressure

gauges_pa = st.floats(0.0, 20e5)
volumes_m3 = st.floats(1e-6, 1e-3)


def test_a_hose_takes_its_share() -> None:
    assert pressure.after_hose(6e5, 90e-6, 10e-6) == pytest.approx(5.4e5)
    assert pressure.after_hose(6e5, 90e-6, 0.0) == 6e5


@given(gauges_pa, volumes_m3, st.floats(0.0, 1e-4), st.floats(5e4, 1.1e5))
def test_the_hose_formula_conserves_gas_at_any_ambient(p: float, chamber: float, hose: float, ambient: float) -> None:
    after = pressure.after_hose(p, chamber, hose)
    before_j = (p + ambient) * chamber + ambient * hose
    assert (after + ambient) * (chamber + hose) == pytest.approx(before_j, rel=1e-9)


def test_absolute_pressure_goes_with_kelvin() -> None:
    cold_pa = pressure.at_temperature(5e5, 293.15, 263.15)
    assert cold_pa + 101325.0 == pytest.approx((5e5 + 101325.0) * 263.15 / 293.15)


@given(gauges_pa, st.floats(230.0, 330.0), st.floats(230.0, 330.0))
def test_warming_up_undoes_cooling_down(p: float, one_k: float, other_k: float) -> None:
    there = pressure.at_temperature(p, one_k, other_k)
    assert pressure.at_temperature(there, other_k, one_k) == pytest.approx(p, abs=1e-3)


def test_a_closed_chamber_reads_more_on_a_mountain() -> None:
    assert pressure.at_ambient(5e5, 101_325.0, 79_500.0) == pytest.approx(5e5 + 21_825.0)


def test_gauge_and_absolute() -> None:
    assert pressure.absolute(5e5) == 601_325.0
    assert pressure.gauge(601_325.0) == 5e5
    assert pressure.gauge(90_000.0, 100_000.0) == -10_000.0


@pytest.mark.parametrize(
    ("function", "arguments", "at_fault"),
    [
        (pressure.after_hose, (-1.0, 1e-4, 1e-5), "pressure_pa"),
        (pressure.after_hose, (5e5, 0.0, 1e-5), "chamber_m3"),
        (pressure.after_hose, (5e5, 1e-4, -1e-5), "hose_m3"),
        (pressure.at_temperature, (5e5, 0.0, 293.0), "from_k"),
        (pressure.at_temperature, (5e5, 293.0, -1.0), "to_k"),
        (pressure.at_temperature, (-2e5, 293.0, 280.0), "pressure_pa"),
        (pressure.at_ambient, (5e5, 0.0, 1e5), "ambient_pa"),
        (pressure.at_ambient, (5e5, 1e5, 0.0), "to_ambient_pa"),
        (pressure.absolute, (-2e5,), "pressure_pa"),
        (pressure.gauge, (0.0,), "absolute_pa"),
    ],
)
def test_impossible_values_name_the_field(
    function: Callable[..., float], arguments: tuple[float, ...], at_fault: str
) -> None:
    with pytest.raises(ValueError, match=f"^{at_fault}: "):
        function(*arguments)
