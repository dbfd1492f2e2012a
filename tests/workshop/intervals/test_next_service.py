"""The next service: one date, from the service that was done, on the report and on the customer's page alike."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from diagnosis.models import Tick
from tests.factories import SuspensionModelFactory, SuspensionUnitFactory, UserFactory
from tests.workshop.intervals.test_intervals_services import ticket_with_steps, with_interval
from workshop.documents.customer_report import gather_customer_report
from workshop.intervals.models import ServiceDone
from workshop.intervals.services import record_services_done
from workshop.links.links import make_link
from workshop.models import Ticket
from workshop.portal.page import customer_page
from workshop.tickets.settings_record import Settings
from workshop.work.hand_back import hand_back

pytestmark = pytest.mark.django_db
WORKED_ON = dt.datetime(2026, 3, 2, 12, tzinfo=dt.UTC)
BOTH = ("lowers-off", "oil-in-legs")


def serviced(*steps: str, months: int | None = 6, hours: float | None = None, **more: Any) -> Ticket:
    """A ticket whose steps were ticked on 2 March 2026, long before anything is printed."""
    unit = SuspensionUnitFactory.create(model=SuspensionModelFactory.create())
    ticket = ticket_with_steps(*steps, unit=unit, customer=unit.customer, shop=unit.shop, **more)
    with_interval(unit, months=months, hours=hours)
    Tick.objects.update(ticked_at=WORKED_ON)
    return ticket


def printed(ticket: Ticket) -> dict[str, Any]:
    told: dict[str, Any] = gather_customer_report(Ticket.objects.get(pk=ticket.pk), "https://shop.example/")[
        "next_service"
    ]
    return told


def on_the_page(ticket: Ticket) -> str:
    secret = make_link(ticket=ticket, by=None)[1]
    return " ".join(Client().get(reverse("customer:page", args=[secret])).content.decode().split())


def test_it_counts_from_the_day_of_the_work_and_not_of_printing() -> None:
    ticket = serviced(*BOTH, state=Ticket.State.READY)

    assert "2 September 2026" in printed(ticket)["words"]
    assert "lowers service of 2 March 2026: after 6 months" in printed(ticket)["counted"]


def test_report_and_page_name_one_date_before_and_after_hand_back() -> None:
    ticket = serviced(*BOTH, state=Ticket.State.READY)
    before = printed(ticket)
    coming = customer_page(ticket).next_service
    assert coming is not None
    assert before["words"] == f"{coming.label}, {coming.when}"
    assert coming.when in on_the_page(ticket)

    clerk = UserFactory.create(shop=ticket.shop)
    hand_back(ticket=ticket, by=clerk, seen_version=ticket.version, settings=Settings())

    assert ServiceDone.objects.get().on == WORKED_ON.date()
    assert printed(ticket) == before
    assert coming.when in on_the_page(Ticket.objects.get(pk=ticket.pk))


@pytest.mark.parametrize("steps", [(), ("lowers-off",)])
def test_nothing_serviced_names_no_date(steps: tuple[str, ...]) -> None:
    ticket = serviced(*steps, state=Ticket.State.READY)

    assert printed(ticket)["words"] == ""
    assert printed(ticket)["has_interval"]
    page = customer_page(ticket).next_service
    assert page is not None
    assert page.forecast is None
    assert "We cannot say yet" in on_the_page(ticket)


def test_a_tick_taken_back_takes_the_date_back() -> None:
    ticket = serviced(*BOTH, state=Ticket.State.READY)
    assert printed(ticket)["words"]
    tick = Tick.objects.get(step__key="oil-in-legs")
    Tick.objects.filter(pk=tick.pk).update(outcome=Tick.Outcome.TAKEN_BACK)

    assert printed(ticket)["words"] == ""


def test_in_mid_repair_no_next_service_is_named() -> None:
    assert printed(serviced(*BOTH, state=Ticket.State.ON_THE_BENCH)) is None


def test_hours_alone_without_known_riding_are_said_as_hours() -> None:
    ticket = serviced(*BOTH, months=None, hours=43, state=Ticket.State.READY)

    assert printed(ticket)["words"] == "Lowers service, after 43 hours of riding"


def test_a_correction_at_the_counter_counts_everywhere() -> None:
    ticket = serviced(*BOTH, state=Ticket.State.HANDED_BACK)
    record_services_done(ticket=ticket, by=None)
    ServiceDone.objects.all().delete()  # the counter says it was no service

    assert printed(ticket)["words"] == ""
    assert timezone.localdate() > WORKED_ON.date()
