"""A service names its kit: the model's own of that level, or that none is on record."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from specs.models import KitLine, ServiceKit, SuspensionModel
from tests.factories import KitLineFactory, SuspensionModelFactory, TicketFactory, UserFactory
from tests.shipped import shipped_checklist, shipped_folder
from tests.squeezed import squeezed
from workshop.models import Ticket
from workshop.tickets.models import PartLine
from workshop.work.adding_parts import add_from_kit
from workshop.work.part_lines import drop_part_line
from workshop.work.service_kits import kits_of_services, service_level_of

pytestmark = pytest.mark.django_db

SERVICES = {
    "routine-lowers-service": "lowers",
    "damper-service": "lowers",  # the damper's own seals and oil come with its rebuilding
    "full-service": "full",
    "shock-air-can-service": "spring",
    "shock-full-service": "full",
    "shock-hardware-service": "",  # what is worn is measured first, by frame
    "after-a-crash": "",
}


@pytest.fixture
def model() -> SuspensionModel:
    made: SuspensionModel = SuspensionModelFactory()
    return made


def kit_of(model: SuspensionModel, level: str, *quantities: int) -> list[KitLine]:
    kit = ServiceKit.objects.create(model=model, level=level)
    return [KitLineFactory(kit=kit, quantity=Decimal(quantity)) for quantity in quantities]


@pytest.fixture
def booked(model: SuspensionModel) -> Callable[..., Ticket]:
    def book(*keys: str, **more: object) -> Ticket:
        ticket: Ticket = TicketFactory(unit__model=model, state="on_the_bench", **more)
        ticket.complaints.add(*(shipped_checklist(key).complaint for key in keys))
        return Ticket.objects.select_related("unit__model").get(pk=ticket.pk)  # as the pages have it

    return book


def test_each_routine_list_takes_the_kit_of_what_its_steps_are_part_of() -> None:
    routine = {plan.key: plan for plan in shipped_folder().checklists if plan.is_routine}
    assert {key: service_level_of(plan.steps, {}) for key, plan in routine.items()} == SERVICES
    coil = {"kind": "shock", "spring_kind": "coil"}
    assert service_level_of(routine["shock-air-can-service"].steps, coil) == ""


def test_a_service_shows_what_of_its_kit_is_not_on_the_ticket(
    model: SuspensionModel, booked: Callable[..., Ticket]
) -> None:
    lines = kit_of(model, "lowers", 2, 25)
    kit_of(model, "full", 1)
    ticket = booked("routine-lowers-service")
    (service,) = kits_of_services(ticket)
    assert (service.title, service.level, list(service.missing)) == ("Lowers service", "lowers", lines)
    added = add_from_kit(ticket=ticket, level="lowers", by=None)
    assert kits_of_services(ticket)[0].missing == ()
    drop_part_line(line=added[0], by=None)
    assert kits_of_services(ticket)[0].missing == (lines[0],)


def test_a_model_without_that_kit_has_none_and_no_other_stands_in(
    model: SuspensionModel, booked: Callable[..., Ticket]
) -> None:
    kit_of(model, "lowers", 2)
    kit_of(SuspensionModelFactory(), "full", 2)
    (service,) = kits_of_services(booked("full-service"))
    assert (service.level, service.lines) == ("full", ())


def test_a_complaint_a_closed_ticket_and_another_kind_of_unit_name_none(
    model: SuspensionModel, booked: Callable[..., Ticket]
) -> None:
    kit_of(model, "lowers", 2)
    kit_of(model, "spring", 2)
    assert kits_of_services(booked("sits-low")) == []
    assert kits_of_services(booked("shock-air-can-service")) == []
    closed = booked("routine-lowers-service")
    Ticket.objects.filter(pk=closed.pk).update(state="called_off")
    assert kits_of_services(Ticket.objects.get(pk=closed.pk)) == []


def test_it_stands_with_the_parts_and_one_press_puts_it_on_the_ticket(
    client: Client, model: SuspensionModel, booked: Callable[..., Ticket]
) -> None:
    (line,) = kit_of(model, "lowers", 2)
    mechanic = UserFactory(mechanic=True)
    client.force_login(mechanic)
    ticket = booked("routine-lowers-service", "full-service", shop=mechanic.shop)
    page = squeezed(client.get(reverse("bench:parts", args=[ticket.number])).content.decode())
    assert f"2 × {line.part.description}." in page
    assert "no kit for it is on record" in page
    client.post(reverse("bench:add_kit", args=[ticket.number]), {"level": "lowers"})
    put = PartLine.objects.get(ticket=ticket)
    assert (put.part, put.quantity, put.status) == (line.part, Decimal(2), "needed")
    page = squeezed(client.get(reverse("bench:parts", args=[ticket.number])).content.decode())
    assert "takes from its kit" not in page
    assert "To order" in page


def test_it_takes_as_many_queries_for_a_large_kit(
    model: SuspensionModel, booked: Callable[..., Ticket], django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    kit_of(model, "lowers", *range(1, 12))
    ticket = booked("routine-lowers-service", "sits-low")
    with django_assert_max_num_queries(5):
        kits_of_services(ticket)
