"""The invented people and bikes of the demo shop. No name here is meant to be anybody's."""

from __future__ import annotations

import random
from dataclasses import dataclass

FIRST_NAMES = (
    "Aldra", "Benno", "Cyrilla", "Dorrit", "Edwy", "Fenella", "Garrick", "Hesper", "Ingram", "Jorunn", "Kester",
    "Linnet", "Merrick", "Nessa", "Orrin", "Petra", "Quill", "Rowan", "Sorrel", "Tamsin", "Ulric", "Verity",
    "Wystan", "Yseult",
)  # fmt: skip
FAMILY_NAMES = (
    "Ashgrindle", "Brackwater", "Coldharrow", "Dunmarrow", "Eldersquith", "Fallowmead", "Gritstone", "Hawkmoth",
    "Inkberrow", "Kettlebeck", "Larkspindle", "Mossthwaite", "Nettlewray", "Oatwhistle", "Pindlebrook", "Quarrick",
    "Rushbeck", "Sallowfen", "Thistlewick", "Umberlow", "Nováreth", "Wrenfield", "Yarrowby", "Sørlund",
)  # fmt: skip
STREETS = ("Quarry Lane", "Weir Row", "Tannery Steps", "Beacon Hill", "Mill Bank", "Chapel Brow", "Sheepwash Road")
COLOURS = ("moss green", "slate", "rust", "chalk white", "bilberry", "sand", "black", "petrol blue")
BIKES = ("trail bike", "hardtail", "long-travel bike", "e-mountain bike", "jump bike", "cross-country bike")


@dataclass(frozen=True)
class DemoCustomer:
    """What the demo knows of one invented customer. Phone numbers and addresses cannot be dialled or reached."""

    name: str
    phone: str
    email: str
    address: str
    agreed_to_reminders: bool
    rider_mass_kg: float
    bikes: tuple[str, ...]


def customers(count: int, seed: int) -> list[DemoCustomer]:
    """So many customers, the same for the same seed, no two of one name."""
    chance = random.Random(seed)  # noqa: S311  demo data needs no secrecy
    names: list[str] = []
    while len(names) < count:
        name = f"{chance.choice(FIRST_NAMES)} {chance.choice(FAMILY_NAMES)}"
        if name not in names:
            names.append(name)
    made = []
    for number, name in enumerate(names):
        bikes = tuple(
            f"{chance.choice(COLOURS)} {kind}" for kind in chance.sample(BIKES, chance.choices((1, 2, 3), (6, 3, 1))[0])
        )
        made.append(
            DemoCustomer(
                name=name,
                phone=f"01632 {960000 + number * 7:06d}",
                email=f"{name.split()[0].lower()}.{number}@example.com" if chance.random() < 0.8 else "",
                address=f"{chance.randint(1, 90)} {chance.choice(STREETS)}\nUnder Beacon",
                agreed_to_reminders=chance.random() < 0.6,
                rider_mass_kg=float(chance.randint(55, 105)),
                bikes=bikes,
            )
        )
    return made
