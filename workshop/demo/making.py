"""Making the demo shop: invented people, units and tickets in every state, on a database that holds no real shop."""

from __future__ import annotations

import datetime as dt
import random
import secrets
from collections.abc import Callable
from dataclasses import dataclass

from django.db import transaction
from django.utils import timezone

from diagnosis.loading import load_shipped
from diagnosis.models import Checklist
from workshop.demo.batches import age_batches, make_batches
from workshop.demo.buying import make_estimates, make_order
from workshop.demo.garage import Garage, make_garage
from workshop.demo.prices import make_hours, make_prices
from workshop.demo.reading import make_signatures
from workshop.demo.riding import make_riding
from workshop.demo.specs_data import load_demo_specs
from workshop.demo.stock import make_stock
from workshop.demo.takings import add_money
from workshop.demo.tickets import make_tickets
from workshop.demo.torque import make_torque_tools
from workshop.running.databases import take_statistics
from workshop.staff.models import Shop, User

SEED = 20_26
CHECKLISTS_OLD = 800  # days: older than the oldest demo ticket
Say = Callable[[str], None]
Past = Callable[[Shop, dict[str, User]], None]


class RealShopThere(RuntimeError):
    """The database holds a shop that is not a demo; nothing was changed."""


@dataclass(frozen=True)
class Login:
    """How a member of the demo's staff signs in."""

    username: str
    password: str
    name: str
    role: str


_STAFF = (
    ("owner", "Hesper", "Quarrick", User.Role.OWNER),
    ("mechanic", "Orrin", "Kettlebeck", User.Role.MECHANIC),
    ("mechanic2", "Linnet", "Sallowfen", User.Role.MECHANIC),
    ("counter", "Benno", "Wrenfield", User.Role.COUNTER),
)


def demo_is_there() -> bool:
    """Whether the demo shop was made already.

    Raises:
        RealShopThere: there is a shop, and it is not a demo.
    """
    if Shop.objects.filter(is_demo=False).exists():
        raise RealShopThere("This database holds a real shop. The demo is only made in an empty one.")
    return Shop.objects.filter(is_demo=True).exists()


@transaction.atomic
def make_demo(*, say: Say = lambda words: None) -> list[Login]:
    """Make the demo shop, all of it or nothing, and return how its staff sign in."""
    logins = fill_demo(say=say, before_tickets=lambda shop, staff: None)
    take_statistics()
    return logins


def fill_demo(*, say: Say, before_tickets: Past) -> list[Login]:
    """The demo shop's rows, the longer past that `before_tickets` gives it before its tickets; within a transaction."""
    chance = random.Random(SEED)  # noqa: S311  the same shop each time; passwords come from secrets
    shop = Shop.objects.create(
        name="Hollow Lane Suspension",
        address="3 Hollow Lane (demo address)\nUnder Beacon",
        phone="01632 960 001",
        email="bench@hollow-lane.example",
        country="GB",
        time_zone="Europe/London",
        currency="EUR",
        altitude_m=210.0,
        is_demo=True,
    )
    say("Staff")
    logins, staff = _make_staff(shop)
    say("Fork models, spec values, parts and kits")
    load_demo_specs(entered_by=staff["mechanic"], checked_by=staff["owner"])
    say("Checklists")
    load_shipped(by=staff["owner"])
    Checklist.objects.update(made_at=timezone.now() - dt.timedelta(days=CHECKLISTS_OLD))
    make_signatures(shop=shop, by=staff["mechanic"])
    say("Stock")
    make_stock(shop=shop, by=staff["owner"], chance=chance)
    make_prices(shop)
    make_hours(shop)
    say("Customers, bikes and units")
    garage: Garage = make_garage(shop=shop, by=staff["counter"], chance=chance, seed=SEED)
    make_torque_tools(shop=shop)
    before_tickets(shop, staff)
    make_batches(shop=shop, by=staff["owner"])
    say("Tickets")
    make_tickets(shop=shop, staff=staff, garage=garage, chance=chance)
    say("An order and estimates")
    make_order(shop=shop, staff=staff)
    make_estimates(shop=shop, staff=staff)
    age_batches(shop=shop, by=staff["owner"])
    add_money(shop, staff)
    say("Riding hours")
    make_riding(garage.units, chance)
    return logins


def _make_staff(shop: Shop) -> tuple[list[Login], dict[str, User]]:
    logins, staff = [], {}
    for username, first_name, last_name, role in _STAFF:
        password = f"{username}-{secrets.token_hex(3)}"
        member = User(shop=shop, username=username, first_name=first_name, last_name=last_name, roles=role)
        member.set_password(password)
        member.full_clean()
        member.save()
        staff[username] = member
        logins.append(Login(username, password, str(member), member.role_words))
    return logins, staff
