import math

import pytest

from specs.physics.air_spring import AirSpring, ImpossibleValue
from tests.physics.springs import SPRING, changed


def test_areas_and_volumes_follow_from_the_dimensions() -> None:
    assert SPRING.piston_area_m2 == pytest.approx(math.pi * 0.016**2)
    assert SPRING.negative_area_m2 == pytest.approx(math.pi * (0.016**2 - 0.005**2))
    assert SPRING.lower_leg_area_m2 == pytest.approx(math.pi * (2 * 0.0175**2 - 0.005**2 - 0.005**2))
    assert SPRING.positive_volume_at(0.1) == pytest.approx(180e-6 - 0.1 * SPRING.piston_area_m2)
    assert SPRING.negative_volume_at(0.1) == pytest.approx(25e-6 + 0.1 * SPRING.negative_area_m2)
    assert SPRING.lower_leg_volume_at(0.1) == pytest.approx(450e-6 - 0.1 * SPRING.lower_leg_area_m2)


@pytest.mark.parametrize("field", ["damper_shaft_m", "port_travel_m", "friction_n"])
def test_some_dimensions_may_be_zero(field: str) -> None:
    assert getattr(changed(**{field: 0.0}), field) == 0.0


@pytest.mark.parametrize("value", [-1e-6, math.nan, math.inf])
@pytest.mark.parametrize("field", list(AirSpring.__dataclass_fields__))
def test_every_field_refuses_what_cannot_be(field: str, value: float) -> None:
    with pytest.raises(ImpossibleValue, match=f"^{field}: ") as caught:
        changed(**{field: value})
    assert caught.value.field == field


@pytest.mark.parametrize(
    "field", sorted(set(AirSpring.__dataclass_fields__) - {"damper_shaft_m", "port_travel_m", "friction_n"})
)
def test_most_fields_refuse_zero(field: str) -> None:
    with pytest.raises(ValueError, match=f"^{field}: "):
        changed(**{field: 0.0})


@pytest.mark.parametrize(
    ("fields", "at_fault"),
    [
        ({"air_shaft_m": 0.032}, "air_shaft_m"),
        ({"air_shaft_m": 0.040}, "air_shaft_m"),
        ({"piston_bore_m": 0.035}, "piston_bore_m"),
        ({"damper_shaft_m": 0.036}, "damper_shaft_m"),
        ({"port_travel_m": 0.161}, "port_travel_m"),
        ({"positive_volume_m3": 128.6e-6}, "positive_volume_m3"),  # Ap times 160 mm is 128.7 ml
        ({"lower_leg_volume_m3": 280e-6}, "lower_leg_volume_m3"),  # Al times 160 mm is 282.7 ml
        ({"travel_m": 0.224}, "positive_volume_m3"),
    ],
)
def test_impossible_combinations_name_the_field(fields: dict[str, float], at_fault: str) -> None:
    with pytest.raises(ValueError, match=f"^{at_fault}: "):
        changed(**fields)
