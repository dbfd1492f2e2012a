"""The geometry fit against SciPy's general least squares and its Student distribution."""

import numpy as np
import pytest
from scipy.optimize import curve_fit
from scipy.stats import t as student

from specs.physics.air_spring import fit_chamber_length
from specs.physics.air_spring.fit import student_quantile

AMBIENT_PA = 101325.0


@pytest.mark.parametrize("seed", range(5))
def test_fit_and_interval_against_curve_fit(seed: int) -> None:
    """Same model, same errors, same covariance: equal to what the iterations leave, a millionth of the interval."""
    draw = np.random.default_rng(seed)
    travels_m = np.sort(draw.uniform(0.0, 0.15, 4 + seed))
    readings_pa = 1.3e5 / (0.22 - travels_m) - AMBIENT_PA + draw.normal(0.0, 3000.0, travels_m.size)

    def model(x: np.ndarray, constant: float, length_m: float) -> np.ndarray:
        return constant / (length_m - x) - AMBIENT_PA

    values, covariance = curve_fit(model, travels_m, readings_pa, p0=(1.3e5, 0.22), ftol=1e-15, xtol=1e-15)
    half_m = student.ppf(0.975, travels_m.size - 2) * np.sqrt(covariance[1, 1])
    fit = fit_chamber_length(list(zip(travels_m.tolist(), readings_pa.tolist(), strict=True)))
    assert fit.length_m.mid == pytest.approx(values[1], rel=1e-7)
    assert (fit.length_m.high - fit.length_m.low) / 2 == pytest.approx(half_m, rel=1e-4)


@pytest.mark.parametrize("confidence", [0.5, 0.9, 0.95, 0.99, 0.999])
@pytest.mark.parametrize("freedom", [1, 2, 3, 10, 100, 1000])
def test_student_quantile_against_scipy(confidence: float, freedom: int) -> None:
    assert student_quantile(confidence, freedom) == pytest.approx(student.ppf((1 + confidence) / 2, freedom), rel=1e-9)


def test_student_quantile_against_the_printed_table() -> None:
    """NIST/SEMATECH e-Handbook 1.3.6.7.2, upper critical values at 0.975, printed to three decimals."""
    for freedom, printed in ((1, 12.706), (2, 4.303), (5, 2.571), (10, 2.228), (100, 1.984)):
        assert student_quantile(0.95, freedom) == pytest.approx(printed, abs=6e-4)


def test_readings_that_scatter_wildly_are_fitted_where_scipy_finds_the_least_squares() -> None:
    """From a start that does not weigh each reading for its own error, no closed chamber would be found at all."""
    travels_m = np.array([0.00568, 0.00819, 0.03634, 0.09936, 0.11725, 0.16289])
    readings_pa = np.array([733_500.0, 93_900.0, 734_400.0, 937_800.0, 784_800.0, 411_300.0]) - AMBIENT_PA

    def model(x: np.ndarray, middle_pa: float, rise_per_m: float) -> np.ndarray:
        return middle_pa / (1 - rise_per_m * x) - AMBIENT_PA

    values, _ = curve_fit(model, travels_m, readings_pa, p0=(6e5, 0.5), ftol=1e-15, xtol=1e-15, gtol=1e-15)
    fit = fit_chamber_length(list(zip(travels_m.tolist(), readings_pa.tolist(), strict=True)))
    assert fit.length_m.mid == pytest.approx(1 / values[1], rel=1e-5)
