"""The demo specs load, stay as they are on a second run, and describe springs that could be built."""

from __future__ import annotations

import math
from decimal import Decimal

import pytest

from specs.expected import expected_keys
from specs.lookup import GeometryGap, current_values, spring_geometry
from specs.models import KitLine, Oil, Part, ServiceKit, SpecValue, SuspensionModel
from specs.physics.air_spring import AirSpring, equalised, pressure_for_sag, rest_band
from tests.factories import UserFactory
from tests.known import known
from workshop.demo.kinds import KINDS
from workshop.demo.specs_data import load_demo_specs

pytestmark = pytest.mark.django_db

# Common practice, no published source: two fifths of a seated rider's weight stands on the front wheel, and the
# fork leans back with a head angle of 65 degrees.
FRONT_SHARE = 0.40
HEAD_ANGLE_DEG = 65.0
KNOWN_IN_PART = ("Dunlin", *KINDS)
"""Of these the bench's values are known and not the spring's geometry, as of most that come in."""


@pytest.fixture
def _demo() -> None:
    load_demo_specs(entered_by=UserFactory(), checked_by=UserFactory())


def _air_forks() -> list[tuple[SuspensionModel, int]]:
    models = SuspensionModel.objects.filter(kind="fork", spring_kind="air").exclude(name__in=KNOWN_IN_PART)
    return [(model, travel_mm) for model in models for travel_mm in model.travels_mm]


@pytest.mark.usefixtures("_demo")
def test_everything_loads_as_demo_data_with_its_source() -> None:
    assert SuspensionModel.objects.filter(kind="fork").count() == 12
    assert SuspensionModel.objects.filter(kind="shock").count() == 5
    assert {model.maker for model in SuspensionModel.objects.all()} == {
        "Ostravane", "Brindlemoor", "Kestrigan", "Talvorn",
    }  # fmt: skip
    sources = set(SpecValue.objects.values_list("source_document", flat=True))
    assert sources == {"Demo data, invented; not a real manual"}
    for records in (SuspensionModel, SpecValue, Oil, Part, ServiceKit):
        assert records.objects.exists()
        assert not records.objects.filter(is_demo=False).exists()


@pytest.mark.usefixtures("_demo")
def test_some_values_are_not_checked_and_the_others_by_a_second_person() -> None:
    assert SpecValue.objects.filter(checked_at=None).count() == 13
    checked = SpecValue.objects.exclude(checked_at=None)
    assert checked.count() > 200
    assert all(value.checked_by_id != value.entered_by_id for value in checked)


@pytest.mark.usefixtures("_demo")
def test_a_second_run_changes_nothing() -> None:
    counts = [records.objects.count() for records in (SuspensionModel, SpecValue, Oil, Part, ServiceKit, KitLine)]
    load_demo_specs(entered_by=UserFactory(), checked_by=UserFactory())
    assert counts == [
        records.objects.count() for records in (SuspensionModel, SpecValue, Oil, Part, ServiceKit, KitLine)
    ]


def test_one_person_cannot_enter_and_check() -> None:
    person = UserFactory()
    with pytest.raises(ValueError, match="second person"):
        load_demo_specs(entered_by=person, checked_by=person)


@pytest.mark.usefixtures("_demo")
def test_complete_models_have_every_value_that_they_can_have() -> None:
    for model in SuspensionModel.objects.exclude(name__in=KNOWN_IN_PART):
        travel_mm = model.travels_mm[-1]
        missing = set(expected_keys(model)) - set(current_values(model, travel_mm))
        assert not missing, f"{model}: {missing}"


@pytest.mark.usefixtures("_demo")
def test_every_air_fork_rests_three_to_five_millimetres_in_and_sags_as_it_should() -> None:
    """Three to five millimetres and 15 to 25 % of travel: common practice, no published source."""
    load_n = 80 * 9.80665 * FRONT_SHARE * math.sin(math.radians(HEAD_ANGLE_DEG))
    forks = _air_forks()
    assert len(forks) == 12
    for model, travel_mm in forks:
        spring = spring_geometry(model, travel_mm / 1000)
        assert isinstance(spring, AirSpring), f"{model}: {spring}"
        pressures_pa = [pressure_for_sag(spring, load_n, share * spring.travel_m) for share in (0.25, 0.20, 0.15)]
        for pressure_pa in pressures_pa:
            assert 45 * 6894.757 < pressure_pa < spring.max_pressure_pa, f"{model} {travel_mm}"
        rest = rest_band(spring, equalised(spring, pressures_pa[1]))
        assert 0.003 < rest.mid < 0.005, f"{model} {travel_mm}: {rest}"
        assert rest.high - rest.low < 0.004, f"{model} {travel_mm}: {rest}"  # what friction leaves open


@pytest.mark.usefixtures("_demo")
def test_one_model_lacks_geometry_and_says_what() -> None:
    model = SuspensionModel.objects.get(name="Dunlin")
    assert spring_geometry(model, 0.1) == GeometryGap(("damper_shaft", "negative_volume", "lower_leg_volume"))


@pytest.mark.usefixtures("_demo")
def test_kits_pour_what_the_values_say() -> None:
    for kit in ServiceKit.objects.filter(level="lowers").select_related("model"):
        values = current_values(kit.model)
        oil = kit.lines.get(part__role=Part.Role.OIL)
        per_leg_m3 = [known(values[f"oil_volume_{leg}_leg"].magnitude_si) for leg in ("air", "damper")]
        assert oil.quantity == pytest.approx(Decimal(sum(per_leg_m3) * 1e6))
        assert oil.part.oil is not None
        assert oil.part.oil.name == values["lower_leg_oil"].text


@pytest.mark.usefixtures("_demo")
def test_foot_parts_follow_from_the_facts() -> None:
    for kit in ServiceKit.objects.filter(level="lowers").select_related("model").prefetch_related("lines__part"):
        roles = {line.part.role for line in kit.lines.all()}
        if kit.model.crush_washers:
            assert Part.Role.CRUSH_WASHER in roles
        else:
            assert Part.Role.FOOT_SEAL in roles
