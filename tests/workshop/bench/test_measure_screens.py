"""Measuring a fork on screen: typed or from a file, refused by line, taken over, checked, taken back."""

from __future__ import annotations

import re

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from tests import factories
from tests.measured_fork import as_lines, lines, measurement_of, with_drawing
from tests.published.test_measured_fork import made_up
from tests.squeezed import squeezed
from workshop.models import ForkMeasurement, Ticket, User

BACKEND = "workshop.staff.backend.StaffBackend"


@pytest.fixture
def ticket(db: None) -> Ticket:
    shop = factories.ShopFactory()
    unit = factories.SuspensionUnitFactory(shop=shop, travel_m=0.160)
    with_drawing(unit, positive_volume=150e-6)
    return factories.TicketFactory(shop=shop, unit=unit, state="on_the_bench")


@pytest.fixture
def mechanic(ticket: Ticket) -> User:
    return factories.UserFactory(shop=ticket.shop, mechanic=True)


@pytest.fixture
def bench(client: Client, mechanic: User) -> Client:
    client.force_login(mechanic, backend=BACKEND)
    return client


def at(name: str, ticket: Ticket, *more: object) -> str:
    return reverse(f"bench:{name}", args=[ticket.number, *more])


def send(bench: Client, ticket: Ticket, **fields: object) -> tuple[int, str]:
    response = bench.post(at("measure", ticket), {"means": "scales", "lines": lines(), **fields})
    return response.status_code, response.content.decode()


def test_readings_are_fitted_and_shown_against_the_model(bench: Client, ticket: Ticket) -> None:
    assert send(bench, ticket)[0] == 302
    measurement = ForkMeasurement.objects.get()
    page = squeezed(bench.get(at("measurement", ticket, measurement.pk)).content.decode())
    assert "66 readings, scales and a rule" in page
    assert "by the model’s values" in page
    assert "Well determined." in page
    assert "150 ml" in page  # what the model says
    assert re.search(r"Not yet\. What would be taken over: .*positive chamber volume", page)
    assert page.count('<td data-label="Off by">') == 66


def test_a_file_of_the_layout_goes_round(bench: Client, ticket: Ticket) -> None:
    """What a file brings is what the file gives back, and gives the same fit."""
    sent = SimpleUploadedFile("fork.csv", lines().encode())
    assert send(bench, ticket, lines="", file=sent)[0] == 302
    first = ForkMeasurement.objects.get()
    file = bench.get(at("measured_file", ticket, first.pk))
    assert file["Content-Type"].startswith("text/csv")
    again = SimpleUploadedFile("again.csv", file.content)
    assert send(bench, ticket, lines="", file=again)[0] == 302
    second = ForkMeasurement.objects.exclude(pk=first.pk).get()
    assert second.lines == first.lines
    assert second.fit == first.fit


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (lambda text: text + "60.0;20;170;500;in\n", "Line 68: 170 mm is deeper than this fork goes, 160 mm"),
        (lambda text: text + text.splitlines()[1] + "\n", "Line 68: The same as line 2"),
        (lambda text: text + "60.0;20;50;heavy;in\n", "Line 68: Force:"),
        (lambda text: "\n".join(text.splitlines()[:4]), "3 are too few: take 8 or more"),
        (lambda text: text.replace("direction", "way"), "no column direction"),
        (lambda text: "", "The file is empty"),
    ],
)
def test_what_is_wrong_is_named_by_its_line_and_nothing_is_lost(
    bench: Client, ticket: Ticket, spoil: object, said: str
) -> None:
    assert callable(spoil)
    text = spoil(lines())
    status, page = send(bench, ticket, lines=text)
    assert status == 422
    assert said in squeezed(page)
    assert 'id="id_lines_error"' in page
    for line in text.splitlines()[-2:]:
        assert line in page
    assert not ForkMeasurement.objects.exists()


def test_forces_in_kilograms_are_told_with_the_slip(bench: Client, ticket: Ticket) -> None:
    kilograms = [
        type(one)(one.pressure_pa, one.travel_m, one.force_n / 9.80665, one.direction) for one in made_up(1.0, 1)
    ]
    status, page = send(bench, ticket, lines=as_lines(kilograms))
    assert status == 422
    assert "was kg meant for N?" in page


def test_a_refused_file_stands_in_the_field_to_be_put_right(bench: Client, ticket: Ticket) -> None:
    sent = SimpleUploadedFile("fork.csv", (lines() + "60.0;20;170;500;in\n").encode())
    status, page = send(bench, ticket, lines="", file=sent)
    assert status == 422
    assert "60.0;20;170;500;in" in page


@pytest.mark.parametrize("content", [b"\xff\xfe\x00", b"\x89PNG\r\n\x1a\n", b"a;b\x00c\n", b"x" * 200_000])
def test_a_file_that_is_no_list_is_refused(bench: Client, ticket: Ticket, content: bytes) -> None:
    status, page = send(bench, ticket, lines="", file=SimpleUploadedFile("fork.csv", content))
    assert status == 422
    assert 'id="id_file_error"' in page


def test_made_up_readings_say_so_and_cannot_be_taken_over(bench: Client, ticket: Ticket) -> None:
    send(bench, ticket, made_up="on")
    measurement = ForkMeasurement.objects.get()
    page = squeezed(bench.get(at("measurement", ticket, measurement.pk)).content.decode())
    assert "These readings were made up" in page
    assert "Calculate this fork with it" not in page
    bench.post(at("take_measured_over", ticket, measurement.pk))
    ticket.unit.refresh_from_db()
    assert ticket.unit.measured is None


def test_taken_over_checked_by_a_second_person_and_taken_back(bench: Client, ticket: Ticket) -> None:
    send(bench, ticket)
    measurement = ForkMeasurement.objects.get()
    bench.post(at("take_measured_over", ticket, measurement.pk))
    page = squeezed(bench.get(at("measurement", ticket, measurement.pk)).content.decode())
    assert "not checked by a second person yet" in page
    assert "calculated with what was measured on it" in squeezed(bench.get(at("spring", ticket)).content.decode())
    answered = bench.post(at("check_measured", ticket, measurement.pk), follow=True)
    assert "A second person looks at it." in answered.content.decode()
    second = Client()
    second.force_login(factories.UserFactory(shop=ticket.shop, mechanic=True), backend=BACKEND)
    second.post(at("check_measured", ticket, measurement.pk))
    assert "checked" in squeezed(bench.get(at("measurement", ticket, measurement.pk)).content.decode())
    measurement.refresh_from_db()
    assert measurement.checked_at is not None
    bench.post(at("take_measured_back", ticket, measurement.pk))
    assert "It is calculated with its model’s geometry." in squeezed(bench.get(at("spring", ticket)).content.decode())
    assert "taken back" in squeezed(bench.get(at("measurement", ticket, measurement.pk)).content.decode())


def test_a_fork_without_diameters_says_what_is_missing(bench: Client, ticket: Ticket) -> None:
    bare = factories.TicketFactory(shop=ticket.shop, state="on_the_bench")
    page = bench.get(at("measure", bare)).content.decode()
    assert "missing from the specs" in page or "travel of this fork" in page
    assert "<textarea" not in page


def test_pages_take_the_same_queries_as_measurements_grow(
    bench: Client, ticket: Ticket, mechanic: User, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    one = measurement_of(ticket.unit, mechanic)
    with django_assert_max_num_queries(30) as first:
        bench.get(at("measure", ticket))
    with django_assert_max_num_queries(30) as first_page:
        bench.get(at("measurement", ticket, one.pk))
    for _ in range(4):
        measurement_of(ticket.unit, factories.UserFactory(shop=ticket.shop))
    with django_assert_max_num_queries(30) as later:
        bench.get(at("measure", ticket))
    with django_assert_max_num_queries(30) as later_page:
        bench.get(at("measurement", ticket, one.pk))
    assert len(later) == len(first)
    assert len(later_page) == len(first_page)


def test_a_measurement_of_another_unit_is_not_found(bench: Client, ticket: Ticket, mechanic: User) -> None:
    other = measurement_of(factories.SuspensionUnitFactory(shop=ticket.shop), mechanic)
    assert bench.get(at("measurement", ticket, other.pk)).status_code == 404
