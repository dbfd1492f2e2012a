"""The factories make records that the models' own checks accept."""

from __future__ import annotations

import inspect
from collections.abc import Callable

import pytest
from django.db.models import Model
from factory.django import DjangoModelFactory

from tests import factories

pytestmark = pytest.mark.django_db

FACTORIES = [
    made
    for _, made in inspect.getmembers(factories, inspect.isclass)
    if issubclass(made, DjangoModelFactory) and made.__module__ == factories.__name__ and not made._meta.abstract
]


@pytest.mark.parametrize("make", FACTORIES, ids=lambda made: made.__name__)
def test_a_made_record_passes_the_checks_of_its_model(make: Callable[[], Model]) -> None:
    record = make()
    done_by_nobody = {field.name for field in record._meta.fields if field.null and getattr(record, field.name) is None}
    record.full_clean(exclude=done_by_nobody)
    assert type(record)._default_manager.filter(pk=record.pk).exists()


def test_a_ticket_a_unit_and_a_customer_are_of_one_shop() -> None:
    ticket = factories.TicketFactory()
    assert ticket.shop == ticket.customer.shop == ticket.unit.shop
    assert ticket.unit.customer == ticket.customer
