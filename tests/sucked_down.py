"""The sucked-down fork of the demo shop without the rest of the shop: one fork, its specs, one checklist begun."""

from __future__ import annotations

from specs.models import SuspensionModel
from tests.factories import BikeFactory, CustomerFactory, ShopFactory, UserFactory
from tests.known import known
from tests.shipped import shipped_checklist
from workshop.demo.garage import Owned
from workshop.demo.specs_data import load_demo_specs
from workshop.demo.sucked_down import make_sucked_down
from workshop.suspension.adding import add_unit
from workshop.tickets.models import Ticket


def sucked_down_ticket() -> Ticket:
    """Ticket 1 of a shop 210 m above the sea; its mechanic is `mechanic`, its clerk `counter`."""
    shop = ShopFactory(altitude_m=210.0, is_demo=True)
    staff = {
        "counter": UserFactory(shop=shop, username="counter"),
        "mechanic": UserFactory(shop=shop, username="mechanic", mechanic=True),
        "owner": UserFactory(shop=shop, username="owner", owner=True),
    }
    load_demo_specs(entered_by=staff["mechanic"], checked_by=staff["owner"])
    complaint = known(shipped_checklist("sits-low").complaint)
    customer = CustomerFactory(shop=shop)
    model = SuspensionModel.objects.get(name="Culvert")
    unit = add_unit(customer=customer, model=model, serial="DEMO-1", travel_m=0.160)
    owned = Owned(unit, customer, BikeFactory(customer=customer))
    return make_sucked_down(shop=shop, staff=staff, owned=owned, complaint=complaint)
