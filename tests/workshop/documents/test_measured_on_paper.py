"""A fork that is calculated with what was measured on it: its papers say so, who read that and when, and who checked.

The readings are made up by the independent free body of tests/published/free_body.py.
"""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from tests import factories
from tests.known import known
from tests.measured_fork import measurement_of
from tests.sucked_down import sucked_down_ticket
from tests.workshop.documents.test_flagship_on_paper import paper, screen
from workshop.documents.customer_report import gather_customer_report
from workshop.documents.work_order import gather_work_order
from workshop.staff.models import User
from workshop.suspension.measuring import check_measurement, take_measurement_back, take_over
from workshop.tickets.models import Ticket

pytestmark = pytest.mark.django_db

READ_AT = dt.datetime(2024, 3, 5, 10, tzinfo=dt.UTC)
OF_THE_MODEL = "Computed from this model’s geometry as entered."


@pytest.fixture
def ticket() -> Ticket:
    sucked_down_ticket()
    return Ticket.objects.select_related("unit__model", "shop").get(number=1)


def measured(ticket: Ticket) -> Any:
    """Measured by one person on a day of another year, and taken over."""
    reader = factories.UserFactory(shop=ticket.shop, first_name="Runa", last_name="Quist", mechanic=True)
    one = measurement_of(ticket.unit, reader, entered_at=READ_AT)
    take_over(measurement=one, by=reader)
    ticket.unit.refresh_from_db()
    return one


def test_both_papers_and_the_screen_name_who_read_it_and_when(ticket: Ticket, client: Client) -> None:
    one = measured(ticket)
    client.force_login(User.objects.get(username="mechanic"))
    order, report = paper(client, "work_order"), paper(client, "customer_report")
    for said in (order, report):
        assert "Calculated with what was measured on this very fork, not with its model’s values alone:" in said
        assert "positive chamber volume, extended" in said
        assert "Readings (scales and a rule) entered 5 Mar 2024 by Runa Quist; taken over" in said
        assert "not checked by a second person." in said
    assert OF_THE_MODEL not in order
    assert "An estimate from what was measured on this very fork" in screen(client)
    checker = factories.UserFactory(shop=ticket.shop, first_name="Odd", last_name="Brevik", mechanic=True)
    check_measurement(measurement=one, by=checker)
    for said in (paper(client, "work_order"), paper(client, "customer_report")):
        assert "by Odd Brevik." in said
        assert "not checked by a second person" not in said


def test_one_that_was_not_measured_or_was_taken_back_is_its_models(ticket: Ticket, client: Client) -> None:
    client.force_login(User.objects.get(username="mechanic"))
    assert OF_THE_MODEL in paper(client, "work_order")
    one = measured(ticket)
    take_measurement_back(measurement=one, by=known(one.entered_by))
    assert OF_THE_MODEL in paper(client, "work_order")
    assert "was measured on this very fork" not in paper(client, "customer_report") + screen(client)


def test_a_measurement_is_one_query_more_and_none_where_nothing_was_measured(
    ticket: Ticket, django_assert_num_queries: Any, django_assert_max_num_queries: Any
) -> None:
    for gather in (gather_work_order, gather_customer_report):
        with django_assert_max_num_queries(200) as before:
            gather(Ticket.objects.get(pk=ticket.pk), "")
        one = measured(ticket)
        with django_assert_num_queries(len(before) + 1):
            gather(Ticket.objects.get(pk=ticket.pk), "")
        take_measurement_back(measurement=one, by=known(one.entered_by))


def test_an_issued_paper_keeps_what_it_said(ticket: Ticket, client: Client) -> None:
    one = measured(ticket)
    client.force_login(User.objects.get(username="mechanic"))
    paper(client, "work_order")
    issued = ticket.documents.get()
    take_measurement_back(measurement=one, by=known(one.entered_by))
    answer = client.get(reverse("documents:pdf", args=[1, "work_order", issued.revision]))
    assert answer["Content-Type"] == "application/pdf"
    assert "measured on this very fork" in issued.data["geometry"]
