"""What the pump's hose takes is no loss: for a shock without a fork's geometry, and by the shop's own pump."""

from __future__ import annotations

import pytest
from django.test import Client

from diagnosis.models import Checklist, Run
from diagnosis.runs import start_run
from specs.models import SpecValue
from tests.bench_runs import url
from tests.factories import (
    SpecValueFactory,
    SuspensionModelFactory,
    SuspensionUnitFactory,
    TicketFactory,
    TicketRunFactory,
)
from tests.shipped import shipped_checklist
from workshop.models import Shop, Ticket, User

pytestmark = pytest.mark.django_db


def on_the_bench(shop: Shop, mechanic: User, key: str, **model: object) -> tuple[Ticket, Run]:
    unit = SuspensionUnitFactory.create(shop=shop, model=SuspensionModelFactory.create(**model))
    ticket = TicketFactory.create(shop=shop, state="on_the_bench", mechanic=mechanic, unit=unit, customer=unit.customer)
    ticket.complaints.add(shipped_checklist(key).complaint)
    run = start_run(checklist=Checklist.objects.get(key=key, is_current=True), facts=unit.facts(), by=mechanic)
    TicketRunFactory.create(ticket=ticket, run=run)
    return ticket, run


@pytest.fixture
def shock(shop: Shop, mechanic: User) -> tuple[Ticket, Run]:
    """An air shock whose air can holds 100 ml, which loses nothing."""
    ticket, run = on_the_bench(shop, mechanic, "shock-loses-air", shock=True)
    assert ticket.unit.model is not None
    SpecValueFactory.create(model=ticket.unit.model, quantity="positive_volume", magnitude_si=100e-6, typed="100 ml")
    return ticket, run


def judged(bench: Client, on: tuple[Ticket, Run], before: str, after: str) -> str:
    ticket, run = on
    form = {"reading-pressure_set": before, "reading-pressure_recheck": after}
    return bench.post(url("judge", ticket, run.pk, "prove-pressure"), form, HTTP_HX_REQUEST="true").text


def test_a_can_of_100_ml_on_a_hose_of_3_ml_loses_no_air(bench: Client, shop: Shop, shock: tuple[Ticket, Run]) -> None:
    """200 psi × 100 / 103 is 194 psi: what a tight can reads when the pump goes on again."""
    Shop.objects.filter(pk=shop.pk).update(pump_hose_m3=3e-6)
    told = judged(bench, shock, "200 psi", "194 psi")
    assert "It holds." in told
    assert "It loses air." not in told
    assert "The hose takes about 5.8 psi." in told
    assert "It loses air." in judged(bench, shock, "200 psi", "186 psi")


def test_the_shops_own_pump_is_reckoned_with(bench: Client, shop: Shop, shock: tuple[Ticket, Run]) -> None:
    Shop.objects.filter(pk=shop.pk).update(pump_hose_m3=8e-6)
    assert "It holds." in judged(bench, shock, "200 psi", "185 psi")
    Shop.objects.filter(pk=shop.pk).update(pump_hose_m3=0.5e-6)
    assert "It loses air." in judged(bench, shock, "200 psi", "185 psi")


def test_a_pump_nobody_measured_is_said_to_be_assumed(bench: Client, shock: tuple[Ticket, Run]) -> None:
    told = judged(bench, shock, "200 psi", "194 psi")
    assert "It holds." in told
    assert "taken for 3 ml, for nobody measured this shop’s pump" in told


def test_without_the_cans_volume_it_is_neither_tight_nor_leaking(bench: Client, shock: tuple[Ticket, Run]) -> None:
    """The hose alone may take that much of a small can, or the can may leak: another reading tells."""
    SpecValue.objects.all().delete()
    told = judged(bench, shock, "200 psi", "194 psi")
    assert "It cannot be told yet." in told
    assert "Pump off and on once more" in told
    assert "It loses air." in judged(bench, shock, "200 psi", "150 psi")
    assert "It holds." in judged(bench, shock, "200 psi", "197 psi")


def test_a_coil_fork_is_not_held_against_the_dip_of_a_port(bench: Client, shop: Shop, mechanic: User) -> None:
    ticket, run = on_the_bench(shop, mechanic, "sits-low", spring_kind="coil")

    def rests(depth: str) -> str:
        address = url("judge", ticket, run.pk, "prove-rest")
        return bench.post(address, {"reading-rest_travel": depth}, HTTP_HX_REQUEST="true").text

    assert "Fully extended, as a coil stands." in rests("0 mm")
    assert "A coil has no port" in rests("0 mm")
    told = rests("5 mm")
    assert "Deeper than a coil stands." in told
    assert "with a port" not in told
    assert "is usual" not in told
