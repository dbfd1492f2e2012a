"""Measures at the counter: a sag in per cent, a weight in stones, and a field that does not repeat its unit.

Stone and pound: NIST SP 811, appendix B.8; a share of a travel is a product.
"""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from tests import factories
from tests.known import known
from tests.squeezed import squeezed
from tests.workshop.counter.test_counter_screens import booking
from workshop.models import Shop, Ticket

BACKEND = "workshop.staff.backend.StaffBackend"


@pytest.fixture
def shop(db: None) -> Shop:
    return factories.ShopFactory()


@pytest.fixture
def counter(client: Client, shop: Shop) -> Client:
    client.force_login(factories.UserFactory(shop=shop), backend=BACKEND)
    return client


def ticket_of(shop: Shop, **unit: object) -> Ticket:
    owned = factories.SuspensionUnitFactory(shop=shop, **unit)
    return factories.TicketFactory(shop=shop, unit=owned, state="ready")


def write_down(counter: Client, ticket: Ticket, **typed: str) -> str:
    address = reverse("counter:settings", args=[ticket.number, "arrival"])
    response = counter.post(address, {"seen_version": "0", **typed})
    return response.content.decode() if response.status_code != 302 else ""


@pytest.mark.parametrize(("typed", "sag_m"), [("20 %", 0.032), ("20%", 0.032), ("32", 0.032), ("1 in", 0.0254)])
def test_a_sag_is_a_depth_or_a_share_of_this_units_travel(
    counter: Client, shop: Shop, typed: str, sag_m: float
) -> None:
    ticket = ticket_of(shop, travel_m=0.160)
    assert write_down(counter, ticket, sag_m=typed) == ""
    assert ticket.settings_records.get().sag_m == pytest.approx(sag_m)


def test_a_share_of_an_unknown_travel_is_refused_beside_its_field_and_kept(counter: Client, shop: Shop) -> None:
    ticket = ticket_of(shop, travel_m=None)
    page = write_down(counter, ticket, sag_m="20 %", pressure_pa="5,4 bar")
    assert "travel is not on record" in page
    assert 'value="20 %"' in page
    assert 'value="5,4 bar"' in page
    assert not ticket.settings_records.exists()


@pytest.mark.parametrize("typed", ["120 %", "-1", "500", "20 psi", "deep"])
def test_a_sag_that_cannot_be_is_refused(counter: Client, shop: Shop, typed: str) -> None:
    page = write_down(counter, ticket_of(shop, travel_m=0.160), sag_m=typed)
    assert 'id="id_sag_m_error"' in page
    assert f'value="{typed}"' in page


def test_a_sag_in_per_cent_while_booking_in_is_of_the_travel_typed_there(counter: Client) -> None:
    counter.post(reverse("counter:book_in"), booking(**{"arrival-sag_m": "20 %"}))
    assert Ticket.objects.get().settings_records.get().sag_m == pytest.approx(0.026)


def test_a_sag_in_per_cent_without_a_travel_loses_nothing_of_the_booking(counter: Client) -> None:
    response = counter.post(reverse("counter:book_in"), booking(**{"arrival-sag_m": "20 %", "unit-travel_m": ""}))
    page = response.content.decode()
    assert "travel is not on record" in page
    assert 'value="20 %"' in page
    assert 'value="Kestrigan Plume"' in page
    assert not Ticket.objects.exists()


def test_a_pressure_with_its_unit_is_taken_as_it_says(counter: Client, shop: Shop) -> None:
    """78 psi in a psi field is 78 psi, and 5.4 bar there is 540 kPa."""
    for typed, pressure_pa in (("78 psi", 537_791.07), ("5.4 bar", 540_000.0), ("78", 537_791.07)):
        ticket = ticket_of(shop)
        assert write_down(counter, ticket, pressure_pa=typed) == ""
        assert ticket.settings_records.get().pressure_pa == pytest.approx(pressure_pa, rel=1e-6)


def test_a_field_shows_a_number_where_its_unit_stands_beside_it(counter: Client, shop: Shop) -> None:
    ticket = ticket_of(shop, travel_m=0.160)
    write_down(counter, ticket, sag_m="30 mm", pressure_pa="78 psi", rest_travel_m="4 mm")
    page = counter.get(reverse("counter:settings", args=[ticket.number, "arrival"])).content.decode()
    for number in ("30", "78", "4"):
        assert f'value="{number}"' in page
    for repeated in ("30 mm", "78 psi", "4 mm"):
        assert f'value="{repeated}"' not in page


def test_a_refused_field_does_not_repeat_its_unit_either(counter: Client, shop: Shop) -> None:
    page = write_down(counter, ticket_of(shop, travel_m=None), sag_m="20 %", pressure_pa="78 psi", rest_travel_m="4 mm")
    assert "travel is not on record" in page
    for number in ("20 %", "78", "4"):
        assert f'value="{number}"' in page
    assert 'value="78 psi"' not in page


def test_a_sum_shows_what_was_typed_beside_its_unit_once(counter: Client) -> None:
    typed = {
        "travel": "160 mm",
        "wanted_sag": "20 %",
        "measured_sag": "25 %",
        "pressure": "78 psi",
        "rider_mass": "12 st",
    }
    page = counter.get(reverse("sums:sum", args=["sag"]), typed).content.decode()
    for number in ("160", "78", "12 st"):
        assert f'value="{number}"' in page
    for repeated in ("160 mm", "78 psi"):
        assert f'value="{repeated}"' not in page


@pytest.mark.parametrize(("typed", "kg"), [("12 st 4", 78.0179), ("172 lb", 78.0179), ("78", 78.0), ("78,5 kg", 78.5)])
def test_a_rider_in_stones_pounds_or_kilograms(counter: Client, shop: Shop, typed: str, kg: float) -> None:
    """12 st 4 lb is 12 x 6.35029318 + 4 x 0.45359237 kg, and 172 lb as well."""
    customer = factories.CustomerFactory(shop=shop)
    page = counter.get(reverse("counter:change_customer", args=[customer.pk]))
    initial = {name: value or "" for name, value in page.context["form"].initial.items() if name != "rider_mass_kg"}
    initial["agreed_to_reminders"] = ""
    address = reverse("counter:change_customer", args=[customer.pk])
    assert counter.post(address, {**initial, "seen_version": "1", "rider_mass_kg": typed}).status_code == 302
    customer.refresh_from_db()
    assert known(customer.rider_mass_kg) == pytest.approx(kg, abs=1e-3)
    assert f'value="{kg:.1f}"'.replace(".0", "") in counter.get(address).content.decode()


def test_fourteen_pounds_are_a_stone(counter: Client, shop: Shop) -> None:
    customer = factories.CustomerFactory(shop=shop)
    address = reverse("counter:change_customer", args=[customer.pk])
    page = counter.post(address, {"name": customer.name, "seen_version": "1", "rider_mass_kg": "12 st 15"})
    assert "less than 14 lb" in page.content.decode()
    assert 'value="12 st 15"' in page.content.decode()


@pytest.mark.parametrize(
    ("unit", "typed", "slip"),
    [
        ("kg", "82000", "A thousand times too much? Was 82 kg meant?"),
        ("kg", "820", "Ten times too much? Was 82 kg meant?"),
        ("kg", "300", "Was it read in lb? Then write 300 lb."),
        ("lb", "1800", "Ten times too much? Was 180 lb meant?"),
    ],
)
def test_a_weight_no_rider_has_is_refused_with_its_likely_slip(
    counter: Client, shop: Shop, unit: str, typed: str, slip: str
) -> None:
    Shop.objects.filter(pk=shop.pk).update(mass_unit=unit)
    customer = factories.CustomerFactory(shop=shop)
    address = reverse("counter:change_customer", args=[customer.pk])
    told = squeezed(counter.post(address, {"seen_version": "1", "name": customer.name, "rider_mass_kg": typed}).text)
    assert "Enter a value from" in told
    assert slip in told
    assert f'value="{typed}"' in told
    customer.refresh_from_db()
    assert customer.rider_mass_kg != 82.0
