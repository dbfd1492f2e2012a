"""O-rings: AS568 / ISO 3601-1 sizes, ISO 3601-1 class B tolerances, and a published table of glands."""

import math

import pytest
from scipy.integrate import quad
from scipy.optimize import brentq

from specs.physics.seals import (
    gland_fill,
    gland_fit,
    inside_tolerance_class_b,
    nearest_sizes,
    seal_sizes,
    section_when_stretched,
    squeeze,
    stretch,
)

# AS568 inside diameters in inches; the metric tables are these times 25.4.
AS568_INCHES = {
    "010": 0.239, "011": 0.301, "012": 0.364, "013": 0.426, "014": 0.489, "015": 0.551, "016": 0.614, "017": 0.676,
    "018": 0.739, "020": 0.864, "022": 0.989, "024": 1.114, "028": 1.364,
    "110": 0.362, "111": 0.424, "112": 0.487, "113": 0.549, "114": 0.612, "115": 0.674, "116": 0.737, "118": 0.862,
    "120": 0.987,
    "210": 0.734, "211": 0.796, "212": 0.859, "214": 0.984, "216": 1.109, "218": 1.234, "220": 1.359, "222": 1.484,
}  # fmt: skip
AS568_SECTIONS = {"0": (0.070, 0.003), "1": (0.103, 0.003), "2": (0.139, 0.004)}


def test_every_shipped_size_is_the_inch_size() -> None:
    """Rounded to 0.01 mm, as the tables print it."""
    assert {size.code for size in seal_sizes()} == set(AS568_INCHES)
    for size in seal_sizes():
        assert size.inside_mm == pytest.approx(AS568_INCHES[size.code] * 25.4, abs=0.0051)
        section_in, tolerance_in = AS568_SECTIONS[size.code[0]]
        assert size.section_mm == pytest.approx(section_in * 25.4, abs=0.0051)
        assert size.section_tolerance_mm == pytest.approx(tolerance_in * 25.4, abs=0.0051)


def test_sizes_not_seen_in_a_published_table_say_so() -> None:
    assert {size.code for size in seal_sizes() if not size.size_confirmed} == {"022", "028", "113", "118"}


def test_the_contradicting_table_entries_are_not_ours() -> None:
    """Public tables also print 25.12 and 19.99 for size 210: both wrong, 0.734 in is 18.64 mm."""
    assert nearest_sizes(18.64, 3.53, 1)[0].code == "210"
    assert nearest_sizes(19.99, 3.53, 1)[0].code == "211"


@pytest.mark.parametrize(("inside_mm", "tolerance_mm"), [(5, 0.15), (10, 0.19), (20, 0.26), (40, 0.41), (80, 0.69)])
def test_class_b_tolerance(inside_mm: float, tolerance_mm: float) -> None:
    """ISO 3601-1 class B as printed, to 0.005 mm."""
    assert inside_tolerance_class_b(inside_mm) == pytest.approx(tolerance_mm, abs=0.0051)


@pytest.mark.parametrize(
    ("section_in", "tolerance_in", "depths_in", "printed_percent"),
    [
        (0.070, 0.003, (0.055, 0.057), (15, 25)),
        (0.103, 0.003, (0.087, 0.090), (10, 18)),
        (0.139, 0.004, (0.119, 0.123), (9, 17)),
        (0.210, 0.005, (0.183, 0.188), (8.5, 15)),
    ],
)
def test_squeeze_against_a_published_gland_table(
    section_in: float, tolerance_in: float, depths_in: tuple[float, float], printed_percent: tuple[float, float]
) -> None:
    """Table A of the public guide "Seal Types and Gland Design", dynamic seals: least and most over both tolerances.

    Printed in whole or half per cent, so half a per cent either way.
    """
    least = squeeze((section_in - tolerance_in) * 25.4, depths_in[1] * 25.4) * 100
    most = squeeze((section_in + tolerance_in) * 25.4, depths_in[0] * 25.4) * 100
    assert (least, most) == pytest.approx(printed_percent, abs=0.5)


def test_stretch_thins_the_section_as_a_ring_of_constant_volume() -> None:
    """Volume of a torus 2 pi² R r² (any handbook of geometry), R about the section's middle, found by SciPy's root."""

    def volume(middle_diameter_mm: float, section: float) -> float:
        return 2 * math.pi**2 * (middle_diameter_mm / 2) * (section / 2) ** 2

    before = volume(20.0, 3.53)
    thinned = brentq(lambda section: volume(20.0 * 1.04, section) - before, 1.0, 4.0)
    assert section_when_stretched(3.53, 0.04) == pytest.approx(thinned, rel=1e-9)


def test_fill_is_the_section_over_the_gland() -> None:
    """The circle integrated by SciPy, over the rectangle it lies in."""
    area, _ = quad(lambda x: 2 * math.sqrt(1.765**2 - x * x), -1.765, 1.765)
    assert gland_fill(3.53, 3.02, 4.7) == pytest.approx(area / (3.02 * 4.7), rel=1e-6)


def test_a_ring_in_its_groove() -> None:
    """By hand: 18.64 mm on 19.2 is 3.0 % of stretch; 3.53 mm thins to 3.478, of which 3.02 leaves 13.2 % of squeeze."""
    fit = gland_fit(18.64, 3.53, groove_diameter_mm=19.2, gland_depth_mm=3.02, gland_width_mm=4.7, motion="dynamic")
    assert (fit.stretch, fit.squeeze) == pytest.approx((0.0300, 0.1317), abs=5e-4)
    assert stretch(18.64, 19.2) == pytest.approx(fit.stretch)
    assert fit.doubts == ()


def test_outside_diameters_of_the_inch_sizes() -> None:
    """AS568: inside and two sections, in inches; 210 is 0.734 + 2 x 0.139 = 1.012 in, 25.70 mm."""
    size = nearest_sizes(18.64, 3.53, 1)[0]
    assert size.outside_mm == pytest.approx(1.012 * 25.4, abs=0.02)


def test_a_ring_of_another_section_is_not_the_nearest() -> None:
    """116 (18.72 x 2.62) and 210 (18.64 x 3.53): the section says which."""
    assert [nearest_sizes(18.68, section, 1)[0].code for section in (2.62, 3.53)] == ["116", "210"]
