"""The spring's answer at the bench: when it is shown, what it lacks, and geometry from three readings."""

from __future__ import annotations

import math
import re

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from specs.models import SpecValue
from tests.factories import TicketFactory, UserFactory
from tests.sucked_down import sucked_down_ticket
from workshop.staff.models import User
from workshop.tickets.models import Ticket

pytestmark = pytest.mark.django_db
PSI = 6894.757293168361


@pytest.fixture
def bench(client: Client) -> Client:
    """The mechanic of the sucked-down fork at the tablet."""
    sucked_down_ticket()
    client.force_login(User.objects.get(username="mechanic"))
    return client


def page(client: Client, **query: str) -> str:
    response = client.get(reverse("bench:spring", args=[1]), query)
    return response.content.decode()


def step_page(client: Client, key: str) -> str:
    run = Ticket.objects.get(number=1).ticket_runs.get().run_id
    return client.get(reverse("bench:step", args=[1, run, key])).content.decode()


def test_the_sucked_down_fork_gets_its_answer_in_words_numbers_and_a_drawing(bench: Client) -> None:
    text = page(bench)

    assert "One person can free it at its maximum of 165 psi with about 14 kg of pull." in text
    assert "more than one person can pull" in text
    assert "Pressure alone will not free it" in text
    assert "<svg" in text
    assert "Air moved to the negative side" in text


def test_the_answer_stands_in_the_step_that_it_decides(bench: Client) -> None:
    assert "Pressure alone will not free it" in step_page(bench, "free-port-at-maximum")


def test_elsewhere_only_its_headline_stands_beside_the_step(bench: Client) -> None:
    text = step_page(bench, "inspect-wipers")

    assert "Stuck down: it rests 66 mm in." in text
    assert "Pressure alone will not free it" not in text


def test_missing_geometry_is_asked_for_and_nothing_is_guessed(bench: Client) -> None:
    SpecValue.objects.filter(quantity="negative_volume").delete()

    text = page(bench)

    assert "Negative chamber volume, extended" in text
    assert "nothing is computed" in text
    assert "<svg xmlns" not in text


def test_three_readings_give_the_chamber(bench: Client) -> None:
    """Readings made from a chamber 200 mm long at 80 psi: the fit finds it again."""
    ambient = 98_826.0  # ISO 2533 at the demo shop's 210 m
    constant = (80 * PSI + ambient) * (0.200 - 0.020)
    travels = (0.020, 0.060, 0.100)
    sent = {f"travel_{n}": f"{travel * 1000:g} mm" for n, travel in enumerate(travels, start=1)}
    sent |= {
        f"reading_{n}": f"{(constant / (0.200 - travel) - ambient) / 1000:.1f} kPa"
        for n, travel in enumerate(travels, start=1)
    }

    text = page(bench, **sent)

    assert re.search(r"is (199\.9\d*|200(\.0\d*)?) mm long", text)
    bore_m = SpecValue.objects.get(quantity="piston_bore", model__name="Culvert").magnitude_si
    assert bore_m is not None
    shown_ml = re.search(r"that is ([\d.]+) ml", text)
    assert shown_ml is not None
    assert float(shown_ml[1]) == pytest.approx(math.pi / 4 * bore_m**2 * 0.200 * 1e6, abs=0.2)


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"travel_2": "banana"}, "Enter a number"),
        ({"reading_1": "8 N·m"}, "is not a unit of pressure"),
        ({"travel_3": "2 m"}, "Enter a value from 0 mm to 250 mm."),
        ({"travel_4": "50 mm"}, "A travel and its reading go together."),
        ({"travel_2": "20 mm", "travel_3": "20 mm"}, "Travel"),
    ],
)
def test_bad_readings_are_refused_beside_their_field(bench: Client, changed: dict[str, str], said: str) -> None:
    good = {"travel_1": "20 mm", "reading_1": "80 psi", "travel_2": "60 mm", "reading_2": "105 psi"}
    good |= {"travel_3": "100 mm", "reading_3": "150 psi"}

    response = bench.get(reverse("bench:spring", args=[1]), good | changed)

    assert response.status_code == 422
    assert said in response.content.decode()
    typed = next(iter(changed.values())).removesuffix(" mm")  # its unit stands beside the field
    assert f'value="{typed}"' in response.content.decode()  # nothing typed is lost


def test_another_shops_ticket_is_not_found(bench: Client) -> None:
    bench.force_login(UserFactory(mechanic=True))

    assert bench.get(reverse("bench:spring", args=[1])).status_code == 404


def test_the_page_keeps_its_number_of_queries(bench: Client) -> None:
    page(bench)  # what is remembered from the first request on
    with CaptureQueriesContext(connection) as few:
        page(bench)
    shop = Ticket.objects.get(number=1).shop
    for number in range(100, 130):
        TicketFactory(shop=shop, number=number)
    with CaptureQueriesContext(connection) as many:
        page(bench)

    assert len(many) == len(few)
