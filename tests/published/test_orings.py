"""O-rings: AS568 / ISO 3601-1 sizes, and a published table of glands."""

import math

import pytest
from scipy.integrate import quad
from scipy.optimize import brentq

from specs.physics.seals import (
    Motion,
    gland_fill,
    nearest_sizes,
    seal_sizes,
    section_when_stretched,
    squeeze,
    squeeze_limits,
    stretch,
)
from workshop.sums.o_rings import Groove, Ring, sitting

# AS568 inside diameters and their tolerances in inches, as a public drawing of sealed containers for OpenSCAD prints
# the standard's table; the metric tables are these times 25.4.
AS568_INCHES = {
    "004": (0.07, 0.005), "005": (0.101, 0.005), "006": (0.114, 0.005), "007": (0.145, 0.005),
    "008": (0.176, 0.005), "009": (0.208, 0.005), "010": (0.239, 0.005), "011": (0.301, 0.005),
    "012": (0.364, 0.005), "013": (0.426, 0.005), "014": (0.489, 0.005), "015": (0.551, 0.007),
    "016": (0.614, 0.009), "017": (0.676, 0.009), "018": (0.739, 0.009), "019": (0.801, 0.009),
    "020": (0.864, 0.009), "021": (0.926, 0.009), "022": (0.989, 0.010), "023": (1.051, 0.010),
    "024": (1.114, 0.010), "025": (1.176, 0.011), "026": (1.239, 0.011), "027": (1.301, 0.011),
    "028": (1.364, 0.013), "029": (1.489, 0.013), "030": (1.614, 0.013), "031": (1.739, 0.015),
    "032": (1.864, 0.015),
    "102": (0.049, 0.005), "103": (0.081, 0.005), "104": (0.112, 0.005), "105": (0.143, 0.005),
    "106": (0.174, 0.005), "107": (0.206, 0.005), "108": (0.237, 0.005), "109": (0.299, 0.005),
    "110": (0.362, 0.005), "111": (0.424, 0.005), "112": (0.487, 0.005), "113": (0.549, 0.007),
    "114": (0.612, 0.009), "115": (0.674, 0.009), "116": (0.737, 0.009), "117": (0.799, 0.010),
    "118": (0.862, 0.010), "119": (0.924, 0.010), "120": (0.987, 0.010), "121": (1.049, 0.010),
    "122": (1.112, 0.010), "123": (1.174, 0.012), "124": (1.237, 0.012), "125": (1.299, 0.012),
    "126": (1.362, 0.012), "127": (1.424, 0.012), "128": (1.487, 0.012), "129": (1.549, 0.015),
    "130": (1.612, 0.015), "131": (1.674, 0.015), "132": (1.737, 0.015), "133": (1.799, 0.015),
    "134": (1.862, 0.015),
    "201": (0.171, 0.005), "202": (0.234, 0.005), "203": (0.296, 0.005), "204": (0.359, 0.005),
    "205": (0.421, 0.005), "206": (0.484, 0.005), "207": (0.546, 0.007), "208": (0.609, 0.009),
    "209": (0.671, 0.009), "210": (0.734, 0.010), "211": (0.796, 0.010), "212": (0.859, 0.010),
    "213": (0.921, 0.010), "214": (0.984, 0.010), "215": (1.046, 0.010), "216": (1.109, 0.012),
    "217": (1.171, 0.012), "218": (1.234, 0.012), "219": (1.296, 0.012), "220": (1.359, 0.012),
    "221": (1.421, 0.012), "222": (1.484, 0.015), "223": (1.609, 0.015), "224": (1.734, 0.015),
    "225": (1.859, 0.018),
}  # fmt: skip
AS568_SECTIONS = {"0": (0.070, 0.003), "1": (0.103, 0.003), "2": (0.139, 0.004)}


def test_every_shipped_size_is_the_inch_size() -> None:
    """Rounded to 0.01 mm, as the tables print it."""
    assert {size.code for size in seal_sizes()} == set(AS568_INCHES)
    for size in seal_sizes():
        inside_in, inside_tolerance_in = AS568_INCHES[size.code]
        assert size.inside_mm == pytest.approx(inside_in * 25.4, abs=0.0051)
        assert size.inside_tolerance_mm == pytest.approx(inside_tolerance_in * 25.4, abs=0.0051), size.code
        section_in, tolerance_in = AS568_SECTIONS[size.code[0]]
        assert size.section_mm == pytest.approx(section_in * 25.4, abs=0.0051)
        assert size.section_tolerance_mm == pytest.approx(tolerance_in * 25.4, abs=0.0051)


@pytest.mark.parametrize(
    ("first", "last", "nominal_in", "less_in"),
    [(10, 28, 1 / 4, 0.011), (110, 134, 3 / 8, 0.013), (210, 222, 3 / 4, 0.016)],
)
def test_the_sizes_step_by_sixteenths_of_an_inch(first: int, last: int, nominal_in: float, less_in: float) -> None:
    """A second way to the same numbers: the standard's nominal sizes, and how much less than those its rings are."""
    of_code = {size.code: size for size in seal_sizes()}
    for step, number in enumerate(range(first, last + 1)):
        nominal_mm = (nominal_in + step / 16 - less_in) * 25.4
        assert of_code[f"{number:03}"].inside_mm == pytest.approx(nominal_mm, abs=0.018)


def test_no_size_is_missing_between_the_first_and_the_last_of_a_series() -> None:
    """120 was followed by nothing, so that a ring of 121 was called 120."""
    for series in ("0", "1", "2"):
        numbers = [int(size.code) for size in seal_sizes() if size.code[0] == series]
        assert numbers == list(range(numbers[0], numbers[-1] + 1))


def test_the_contradicting_table_entries_are_not_ours() -> None:
    """Public tables also print 25.12 and 19.99 for size 210: both wrong, 0.734 in is 18.64 mm."""
    assert nearest_sizes(18.64, 3.53, 1)[0].code == "210"
    assert nearest_sizes(19.99, 3.53, 1)[0].code == "211"


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
    fit = sitting(Ring("210", 18.64, 3.53), Groove(0.0192, 0.00302, 0.0047, motion="dynamic"))
    assert (fit.stretch, fit.squeeze) == pytest.approx((0.0300, 0.1317), abs=5e-4)
    assert stretch(18.64, 19.2) == pytest.approx(fit.stretch)
    assert fit.doubts == ()


def test_a_ring_of_another_section_is_not_the_nearest() -> None:
    """116 (18.72 x 2.62) and 210 (18.64 x 3.53): the section says which."""
    assert [nearest_sizes(18.68, section, 1)[0].code for section in (2.62, 3.53)] == ["116", "210"]


# "Seal Types and Gland Design", a public guide: its table of dynamic glands, and of static ones sealing radially.
# Section and its tolerance, the least and the most depth of the gland (inches), and the squeeze as printed (per cent).
DYNAMIC_GLANDS = (
    (0.070, 0.003, 0.055, 0.057, 15, 25),
    (0.103, 0.003, 0.087, 0.090, 10, 18),
    (0.139, 0.004, 0.119, 0.123, 9, 17),
    (0.210, 0.005, 0.183, 0.188, 8.5, 15),
    (0.275, 0.006, 0.234, 0.240, 10.5, 17),
)
STATIC_GLANDS = (
    (0.070, 0.003, 0.050, 0.055, 18, 32),
    (0.103, 0.003, 0.080, 0.086, 14, 25),
    (0.139, 0.004, 0.110, 0.116, 14, 23),
    (0.210, 0.005, 0.170, 0.176, 14, 21),
    (0.275, 0.006, 0.225, 0.235, 13, 20),
)


@pytest.mark.parametrize(("motion", "glands"), [("dynamic", DYNAMIC_GLANDS), ("static", STATIC_GLANDS)])
def test_limits_of_squeeze_are_those_of_the_section(motion: Motion, glands: tuple[tuple[float, ...], ...]) -> None:
    """As printed, and as the guide's own depths give over both tolerances, to the half per cent it is rounded to."""
    for section_in, tolerance_in, least_depth_in, most_depth_in, low, high in glands:
        limits = squeeze_limits(section_in * 25.4, motion)
        assert limits.published
        assert (limits.low, limits.high) == pytest.approx((low / 100, high / 100))
        least = squeeze((section_in - tolerance_in) * 25.4, most_depth_in * 25.4)
        most = squeeze((section_in + tolerance_in) * 25.4, least_depth_in * 25.4)
        assert (least, most) == pytest.approx((limits.low, limits.high), abs=0.0051)


@pytest.mark.parametrize("motion", ["static", "dynamic"])
def test_a_section_the_guide_does_not_print_is_from_memory(motion: Motion) -> None:
    assert not squeeze_limits(3.0, motion).published
    assert not squeeze_limits(2.0, motion).published


def test_a_thin_ring_needs_more_squeeze_than_a_thick_one() -> None:
    """19 % is usual for 1.78 mm that slides, and too much for 3.53 mm; one limit for both said the opposite."""
    thin, thick = squeeze_limits(1.78, "dynamic"), squeeze_limits(3.53, "dynamic")
    assert thin.holds(0.22)
    assert not thick.holds(0.175)
    assert thick.holds(0.10)
    assert not thin.holds(0.14)


def test_a_ring_in_a_rod_gland_is_pressed_together_and_thickens() -> None:
    """By hand and by the torus of constant volume: 110 (9.19 x 2.62, outside 14.43) in a floor of 13.97 mm.

    0.550 in is the floor that the guides give a 3/8 in rod: the outside shrinks by 3.2 %, 2.62 mm thickens to 2.663.
    """
    fit = sitting(Ring("110", 9.19, 2.62), Groove(0.01397, 0.00225, 0.0037, gland="rod"))
    thickened = brentq(lambda section: (13.97 / 14.43) * section**2 - 2.62**2, 2.0, 3.0)
    assert thickened == pytest.approx(2.663, abs=5e-4)
    assert fit.stretch == pytest.approx(13.97 / 14.43 - 1)
    assert fit.squeeze == pytest.approx(1 - 2.25 / thickened)
