"""The sums there are, in the order of their tabs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from workshop.sums.forms.base import SumForm
from workshop.sums.forms.o_rings import ORingForm
from workshop.sums.forms.oils import OilForm
from workshop.sums.forms.pump import PumpForm
from workshop.sums.forms.sag import SagForm
from workshop.sums.forms.torque import TorqueForm
from workshop.sums.forms.units import UnitsForm


@dataclass(frozen=True)
class Caution:
    """What can hurt or break where the sum is used."""

    title: str
    text: str


@dataclass(frozen=True)
class Subject:
    """One sum: its address, its words, and what it asks."""

    key: str
    title: str
    lead: str
    form: type[SumForm]
    caution: Caution | None = None


_AIR = Caution(
    "compressed air",
    "Never above the maximum printed on the fork or in its manual. Let all air out before anything is unscrewed.",
)

SUBJECTS: Mapping[str, Subject] = {
    subject.key: subject
    for subject in (
        Subject("units", "Units", "One value in every unit of its kind.", UnitsForm),
        Subject(
            "torque",
            "Torque",
            "What to set on a wrench with an extension, and whether a torque can be meant at all.",
            TorqueForm,
            Caution(
                "brake and steering parts",
                "The maker's torque goes first. Sums catch slips; they never say how tight a bolt should be.",
            ),
        ),
        Subject(
            "o-rings",
            "O-rings",
            "The standard size nearest to a measured ring, and how it sits in its groove.",
            ORingForm,
            Caution(
                "the right rubber",
                "A ring of the right size but the wrong material swells or cracks in oil: ask for the material too.",
            ),
        ),
        Subject(
            "oils", "Oils", "What an oil is by numbers, what can stand in for it, and what two of them mix to.", OilForm
        ),
        Subject(
            "sag", "Sag", "The pressure to set for the sag that is wanted, here or up the mountain.", SagForm, _AIR
        ),
        Subject(
            "pump", "Pump", "What hose, height and weather do to a reading, and how often to pump.", PumpForm, _AIR
        ),
    )
}
