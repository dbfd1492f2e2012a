"""Customers, bikes and units of the demo shop."""

from __future__ import annotations

import datetime as dt
import random
from dataclasses import dataclass

from django.utils import timezone

from specs.models import SuspensionModel
from workshop.customers.adding import add_bike, add_customer
from workshop.customers.models import Bike, Customer
from workshop.demo.kinds import KINDS
from workshop.demo.people import customers as invented_customers
from workshop.staff.models import Shop, User
from workshop.suspension.adding import add_unit
from workshop.suspension.fitting import fit
from workshop.suspension.models import SuspensionUnit

CUSTOMERS = 42
UNITS = 62


@dataclass(frozen=True)
class Owned:
    """A unit, whose it is, and the bike it is on (None: it came in on its own)."""

    unit: SuspensionUnit
    customer: Customer
    bike: Bike | None


@dataclass(frozen=True)
class Garage:
    """Everything the demo's customers own. `sucked_down` is the fork for the half-done diagnosis, `of_each_kind` a unit
    of each kind that a checklist has to ask for."""

    owned: list[Owned]
    sucked_down: Owned
    of_each_kind: list[Owned]

    @property
    def units(self) -> list[SuspensionUnit]:
        return [*(owned.unit for owned in (*self.owned, *self.of_each_kind)), self.sucked_down.unit]


def make_garage(*, shop: Shop, by: User, chance: random.Random, seed: int) -> Garage:
    """Some forty customers with some sixty units among them."""
    today = timezone.localdate()
    known = list(SuspensionModel.objects.filter(is_demo=True))
    models = [model for model in known if model.name not in KINDS]
    bikes: list[Bike] = []
    for person in invented_customers(CUSTOMERS, seed):
        customer = add_customer(
            shop=shop,
            by=by,
            name=person.name,
            phone=person.phone,
            email=person.email,
            address=person.address,
            agreed_to_reminders=person.agreed_to_reminders,
            rider_mass_kg=person.rider_mass_kg,
        )
        bikes += [add_bike(customer=customer, description=description) for description in person.bikes]
    owned: list[Owned] = []
    for number in range(UNITS):
        bike = bikes[number % len(bikes)]
        fork_there = any(other.bike == bike and other.unit.kind == "fork" for other in owned)
        model = chance.choice([m for m in models if m.kind == ("shock" if fork_there else "fork")])
        owned.append(_own(model, bike, number, by, chance, today))
    culvert = next(m for m in models if m.name == "Culvert")
    sucked_down = _own(culvert, bikes[-1], UNITS, by, chance, today, travel_mm=160)
    rare = sorted((model for model in known if model.name in KINDS), key=lambda model: list(KINDS).index(model.name))
    # Of their own chance, so that the rest of the demo stays as it is.
    own_chance = random.Random(seed)  # noqa: S311  the same units each time
    of_each_kind = [
        _own(model, bikes[-2 - number], UNITS + 1 + number, by, own_chance, today) for number, model in enumerate(rare)
    ]
    return Garage(owned=owned, sucked_down=sucked_down, of_each_kind=of_each_kind)


def _own(
    model: SuspensionModel,
    bike: Bike,
    number: int,
    by: User,
    chance: random.Random,
    today: dt.date,
    travel_mm: int | None = None,
) -> Owned:
    travel = travel_mm or (chance.choice(model.travels_mm) if model.travels_mm else None)
    unit = add_unit(
        customer=bike.customer,
        kind=model.kind,
        model=model,
        serial=f"DEMO-{model.name[:3].upper()}-{number + 1:04d}",
        travel_m=None if travel is None else travel / 1000,
        notes="Demo data, invented.",
    )
    on_its_bike = chance.random() < 0.9
    if on_its_bike:
        fit(unit=unit, bike=bike, since=today - dt.timedelta(days=chance.randint(300, 900)), by=by)
    return Owned(unit, bike.customer, bike if on_its_bike else None)
