"""The sums there are, in the order of their tabs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from workshop.sums.forms.base import SumForm
from workshop.sums.forms.o_rings import ORingForm
from workshop.sums.forms.oils import OilForm
from workshop.sums.forms.pump import PumpForm
from workshop.sums.forms.sag import SagForm
from workshop.sums.forms.shock import ShockForm
from workshop.sums.forms.torque import TorqueForm
from workshop.sums.forms.units import UnitsForm


@dataclass(frozen=True)
class Caution:
    """What can hurt or break where the sum is used."""

    title: str
    text: str


@dataclass(frozen=True)
class Subject:
    """One sum: its address, its words, and what it asks.

    `published` names the modules of tests/published that hold its arithmetic against something outside.
    """

    key: str
    title: str
    lead: str
    form: type[SumForm]
    published: tuple[str, ...]
    caution: Caution | None = None


_AIR = Caution(
    "compressed air",
    "Never above the maximum printed on the fork or in its manual. Let all air out before anything is unscrewed.",
)

SUBJECTS: Mapping[str, Subject] = {
    subject.key: subject
    for subject in (
        Subject("units", "Units", "One value in every unit of its kind.", UnitsForm, ("test_conversion_factors",)),
        Subject(
            "torque",
            "Torque",
            "What to set on a wrench with an extension, and whether a torque can be meant at all.",
            TorqueForm,
            ("test_bolts_and_wrenches",),
            Caution(
                "brake and steering parts",
                "The maker’s torque goes first. Sums catch slips; they never say how tight a bolt should be.",
            ),
        ),
        Subject(
            "o-rings",
            "O-rings",
            "The standard size of a measured ring, and how it sits in its groove.",
            ORingForm,
            ("test_orings",),
            Caution(
                "the right rubber",
                "A ring of the right size but the wrong material swells or cracks in oil: ask for the material too.",
            ),
        ),
        Subject(
            "oils",
            "Oils",
            "What an oil is by numbers, what can stand in for it, and what two of them mix to.",
            OilForm,
            ("test_oil",),
        ),
        Subject(
            "sag",
            "Sag",
            "The pressure to set for the sag that is wanted, here or up the mountain.",
            SagForm,
            ("test_air_spring_by_integration", "test_atmosphere", "test_gauge_pressures"),
            _AIR,
        ),
        Subject(
            "shock",
            "Shock",
            "Sag of a shock at the wheel; the coil, its preload, or the pressure of an air can for it.",
            ShockForm,
            ("test_shocks_and_coils", "test_atmosphere"),
            _AIR,
        ),
        Subject(
            "pump",
            "Pump",
            "What hose, height and weather do to a reading, and how often to pump.",
            PumpForm,
            ("test_gauge_pressures", "test_air_spring_by_integration", "test_atmosphere"),
            _AIR,
        ),
    )
}
