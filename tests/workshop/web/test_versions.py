"""Two people at one record: the second is shown both versions, and chooses."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from tests import factories
from tests.logbook import changed, said
from workshop.models import SettingsRecord, Ticket
from workshop.tickets.settings_record import Settings, record_settings
from workshop.web.versions import StaleVersion, take_version

pytestmark = pytest.mark.django_db


@pytest.fixture
def ticket(client: Client) -> Ticket:
    ticket = factories.TicketFactory(notes="As agreed on the phone.")
    client.force_login(factories.UserFactory(shop=ticket.shop), backend="workshop.staff.backend.StaffBackend")
    return ticket


def agreement(ticket: Ticket, **changes: object) -> dict[str, object]:
    return {
        "seen_version": "1",
        "complaint_words": ticket.complaint_words,
        "promised_on": ticket.promised_on.isoformat(),
        "price_ceiling": "",
        "notes": ticket.notes,
        **changes,
    }


def test_a_version_is_taken_once() -> None:
    customer = factories.CustomerFactory()
    slower = type(customer).objects.get(pk=customer.pk)
    take_version(customer, 1)
    with pytest.raises(StaleVersion):
        take_version(slower, 1)
    assert slower.version == 2


def test_a_change_is_saved_and_its_before_and_after_logged(client: Client, ticket: Ticket) -> None:
    url = reverse("counter:edit_agreement", args=[ticket.number])
    response = client.post(url, agreement(ticket, price_ceiling="180", notes="Call first."))
    assert response.status_code == 302
    ticket.refresh_from_db()
    assert (ticket.version, str(ticket.price_ceiling), ticket.notes) == (2, "180.00", "Call first.")
    changes = changed(ticket.events.get())
    assert changes == {
        "Price limit": ["none", "180.00 EUR"],
        "Notes": ["As agreed on the phone.", "Call first."],
    }


def test_saving_without_a_change_leaves_no_line(client: Client, ticket: Ticket) -> None:
    client.post(reverse("counter:edit_agreement", args=[ticket.number]), agreement(ticket))
    assert not ticket.events.exists()


def test_the_slower_editor_sees_both_versions_and_loses_nothing(client: Client, ticket: Ticket) -> None:
    url = reverse("counter:edit_agreement", args=[ticket.number])
    client.post(url, agreement(ticket, notes="Theirs"))
    response = client.post(url, agreement(ticket, notes="Mine"))
    page = response.content.decode()
    assert response.status_code == 409
    assert [(d.label, d.typed, d.stored) for d in response.context["differences"]] == [
        ("Notes for the bench", "Mine", "Theirs")
    ]
    assert "Save mine over theirs" in page
    assert ">\nMine</textarea>" in page
    ticket.refresh_from_db()
    assert ticket.notes == "Theirs"

    again = client.post(url, agreement(ticket, notes="Mine", seen_version=response.context["seen_version"]))
    assert again.status_code == 302
    ticket.refresh_from_db()
    assert ticket.notes == "Mine"


def test_a_stale_move_does_nothing_and_says_where_the_ticket_is(client: Client, ticket: Ticket) -> None:
    url = reverse("counter:move", args=[ticket.number])
    client.post(url, {"seen_version": "1", "to": "waiting:customer", "reason": "asked for a yes"})
    response = client.post(url, {"seen_version": "1", "to": "called_off", "reason": "no answer"})
    assert response.status_code == 409
    assert "waiting for the customer’s answer" in response.content.decode()
    assert "no answer</textarea>" in response.content.decode()
    ticket.refresh_from_db()
    assert ticket.state == "waiting"


@pytest.mark.parametrize("kind", ["customer", "bike", "unit"])
def test_every_record_is_edited_by_one_at_a_time(client: Client, ticket: Ticket, kind: str) -> None:
    bike = factories.BikeFactory(customer=ticket.customer)
    record = {"customer": ticket.customer, "bike": bike, "unit": ticket.unit}[kind]
    typed = {
        "customer": {"name": "Mine", "preferred_contact": "phone"},
        "bike": {"description": "Mine"},
        "unit": {"described_as": "Mine", "kind": "fork"},
    }[kind]
    url = reverse(f"counter:change_{kind}", args=[record.pk])
    type(record)._default_manager.filter(pk=record.pk).update(version=2)
    response = client.post(url, {**typed, "seen_version": "1"})
    assert response.status_code == 409
    assert response.context["differences"][0].typed == "Mine"
    assert client.post(url, {**typed, "seen_version": "2"}).status_code == 302


def test_settings_written_by_two_are_not_overwritten(client: Client, ticket: Ticket) -> None:
    url = reverse("counter:settings", args=[ticket.number, "arrival"])
    assert client.post(url, {"seen_version": "0", "rebound_clicks": "7"}).status_code == 302
    response = client.post(url, {"seen_version": "0", "rebound_clicks": "9"})
    assert response.status_code == 409
    assert SettingsRecord.objects.get().rebound_clicks == 7


def test_equal_values_in_other_units_are_no_difference(client: Client, ticket: Ticket) -> None:
    record_settings(ticket=ticket, moment="arrival", settings=Settings(pressure_pa=560000.0, spacers=1), by=None)
    url = reverse("counter:settings", args=[ticket.number, "arrival"])
    response = client.post(url, {"seen_version": "0", "pressure_pa": "5.6 bar", "spacers": "2"})
    assert [(d.label, d.typed, d.stored) for d in response.context["differences"]] == [("Volume spacers", "2", "1")]


def test_a_correction_is_logged_with_before_and_after(ticket: Ticket) -> None:
    record = record_settings(ticket=ticket, moment="arrival", settings=Settings(rebound_clicks=7), by=None)
    record_settings(
        ticket=ticket, moment="arrival", settings=Settings(rebound_clicks=8), by=None, seen_version=record.version
    )
    line = ticket.events.first()
    assert said(line) == "Settings on arrival corrected"
    assert changed(line) == {"Rebound, clicks from closed": ["7", "8"]}


def test_hand_back_over_settings_written_meanwhile_takes_one_clear_choice(client: Client, ticket: Ticket) -> None:
    type(ticket).objects.filter(pk=ticket.pk).update(state="ready", version=4)
    record_settings(ticket=ticket, moment="hand_back", settings=Settings(rebound_clicks=7), by=None)
    url = reverse("counter:hand_back", args=[ticket.number])
    response = client.post(url, {"seen_version": "4", "seen_settings_version": "0", "rebound_clicks": "9"})
    assert response.status_code == 409
    assert [(d.typed, d.stored) for d in response.context["differences"]] == [("9", "7")]
    seen = {name: response.context[name] for name in ("seen_version", "seen_settings_version")}
    assert client.post(url, {**seen, "rebound_clicks": "9"}).status_code == 302
    ticket.refresh_from_db()
    assert (ticket.state, ticket.settings_records.get().rebound_clicks) == ("handed_back", 9)
