"""A shock's sag at the bench: with the leverage of its bike and the can of its model, or saying what is missing."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from diagnosis.models import Run
from specs.models import SpecValue
from tests.bench_runs import url
from tests.factories import BikeFactory, SpecValueFactory
from tests.known import known
from tests.specs.test_can_geometry import A_CAN
from tests.squeezed import squeezed
from tests.workshop.bench.test_hose_allowance import on_the_bench
from workshop.models import Bike, Shop, Ticket, User

pytestmark = pytest.mark.django_db


@pytest.fixture
def shock(shop: Shop, mechanic: User) -> tuple[Ticket, Run]:
    """An air shock of 60 mm with all values of its can, on a bike whose leverage nobody noted."""
    ticket, run = on_the_bench(shop, mechanic, "shock-air-can-service", shock=True)
    for key, magnitude_si in (A_CAN | {"sag_low": 0.25, "sag_high": 0.30}).items():
        value = {"model": known(ticket.unit.model), "quantity": key, "magnitude_si": magnitude_si, "typed": key}
        SpecValueFactory.create(**value, source_document="Can sheet", checked_by=None, checked_at=None)
    ticket.unit.travel_m = 0.060
    ticket.unit.save()
    ticket.bike = BikeFactory.create(customer=ticket.customer, description="Blue trail bike")
    ticket.customer.rider_mass_kg = 80.0
    ticket.customer.save()
    ticket.save()
    return ticket, run


def noted(ticket: Ticket, by: User) -> None:
    Bike.objects.filter(pk=ticket.bike_id).update(
        leverage=2.5, leverage_source="maker", leverage_by=by, leverage_at=timezone.now()
    )


def told(bench: Client, on: tuple[Ticket, Run], sag: str) -> str:
    ticket, run = on
    form = {"reading-sag": sag}
    return squeezed(bench.post(url("judge", ticket, run.pk, "shock-prove-sag"), form, HTTP_HX_REQUEST="true").text)


def test_the_sag_is_told_at_the_wheel_with_whence_the_leverage_is(
    bench: Client, mechanic: User, shock: tuple[Ticket, Run]
) -> None:
    noted(shock[0], mechanic)
    says = told(bench, shock, "16 mm")
    assert "40 mm of 150 mm, for 16 mm at the shock." in says
    assert "Leverage 2.50: the frame maker’s papers, noted" in says
    assert f"by {mechanic}" in says
    assert "Was it measured at the wheel?" in told(bench, shock, "40 mm")


def test_a_leverage_nobody_noted_is_shown_as_missing(bench: Client, shock: tuple[Ticket, Run]) -> None:
    says = told(bench, shock, "16 mm")
    assert "At the wheel: not known." in says
    assert "The leverage of “Blue trail bike” is not on record." in says
    page = squeezed(bench.get(reverse("bench:ticket", args=[shock[0].number])).text)
    assert "<dt>Leverage of the bike</dt><dd>not on record</dd>" in page
    Ticket.objects.filter(pk=shock[0].pk).update(bike=None)
    assert "No bike is on this ticket, and the leverage is a bike’s." in told(bench, shock, "16 mm")


def test_the_volumes_of_the_can_are_used_once_the_pressure_is_read(
    bench: Client, mechanic: User, shock: tuple[Ticket, Run]
) -> None:
    ticket, run = shock
    noted(ticket, mechanic)
    assert "The pressure it holds was not read at a proof." in told(bench, shock, "16 mm")
    step = known(run.checklist.steps.filter(key="prove-pressure").first())
    read = {"magnitude_si": 120 * 6894.757293168361, "typed": "120 psi", "by": mechanic, "read_at": timezone.now()}
    run.readings.create(step=step, key="pressure_set", **read)
    says = told(bench, shock, "16 mm")
    assert "At 120 psi the can carries 1252 N where it stands" in says
    assert "That is 64 % of the rider’s 80 kg." in says
    assert "Air can by Can sheet; ideal gas" in says
    assert "Not checked against the manual: piston" not in says
    assert "negative chamber volume, extended" in says
    SpecValue.objects.filter(quantity="negative_volume").update(magnitude_si=80e-6)
    assert "1252 N" not in told(bench, shock, "16 mm")
    SpecValue.objects.filter(quantity="negative_volume").delete()
    assert "Missing from the specs: negative chamber volume, extended." in told(bench, shock, "16 mm")


def test_the_leverage_costs_the_step_no_query(
    bench: Client, mechanic: User, shock: tuple[Ticket, Run], django_assert_num_queries: Any,
    django_assert_max_num_queries: Any,
) -> None:  # fmt: skip
    ticket, run = shock
    address = url("step", ticket, run.pk, "shock-prove-sag")
    bench.get(address)
    with django_assert_max_num_queries(60) as without:
        bench.get(address)
    noted(ticket, mechanic)
    with django_assert_num_queries(len(without)):
        page = bench.get(address)
    assert "2.50: the frame maker’s papers" in squeezed(page.text)
