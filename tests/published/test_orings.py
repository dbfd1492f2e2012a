"""O-rings: AS568 / ISO 3601-1 sizes, ISO 3601-1 class B tolerances, and a published table of glands."""

import pytest

from specs.physics.seals import inside_tolerance_class_b, nearest_sizes, seal_sizes, squeeze

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
