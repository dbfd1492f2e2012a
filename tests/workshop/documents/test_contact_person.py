"""Whom to ask for at a company stands on the work order and on the slip, with how they are reached."""

from __future__ import annotations

from typing import Any

import pytest
from django.template.loader import render_to_string

from tests.factories import CustomerFactory, SuspensionUnitFactory, TicketFactory
from tests.squeezed import squeezed
from workshop.documents.slip import gather_slip
from workshop.documents.work_order import gather_work_order
from workshop.models import Ticket

pytestmark = pytest.mark.django_db
GATHER = {"work_order": gather_work_order, "slip": gather_slip}


def of_customer(**fields: Any) -> Ticket:
    customer = CustomerFactory.create(name="Weir Couriers", phone="0555 010 100", **fields)
    unit = SuspensionUnitFactory.create(shop=customer.shop, customer=customer)
    return TicketFactory.create(shop=customer.shop, customer=customer, unit=unit)


def printed(kind: str, ticket: Ticket) -> str:
    return squeezed(render_to_string(f"documents/{kind}.html", {"doc": GATHER[kind](ticket, "")}))


@pytest.mark.parametrize("kind", GATHER)
def test_it_says_whom_to_ask_for_and_how_they_are_reached(kind: str) -> None:
    ticket = of_customer(
        contact_person="Ada Lorn", other_phones="0555 010 177 yard\n0555 010 178 night", email="ada@weir.example",
        preferred_contact="email",
    )  # fmt: skip
    words = printed(kind, ticket)
    for said in ("Ada Lorn", "0555 010 177 yard", "0555 010 178 night", "ada@weir.example", "best by email"):
        assert said in words


@pytest.mark.parametrize("kind", GATHER)
def test_without_one_nothing_is_added(kind: str) -> None:
    words = printed(kind, of_customer(other_phones="0555 010 177 yard", preferred_contact="message"))
    assert "0555 010 100" in words
    for said in ("ask for", "Contact:", "0555 010 177", "best by"):
        assert said not in words
