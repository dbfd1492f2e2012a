"""What a hand-over counted as a service moves no due day once it is undone, and counts again when it is handed over."""

from __future__ import annotations

import datetime as dt

import pytest
from django.core.exceptions import ValidationError
from django.utils import timezone

from tests.handed_over import hand_it_over
from tests.logbook import logged
from tests.workshop.intervals.test_intervals_services import ticket_with_steps, with_interval
from workshop.intervals.models import ServiceDone
from workshop.intervals.services import correct_services_done, note_service_elsewhere
from workshop.intervals.standing import standing_of
from workshop.models import Ticket
from workshop.work.taking_back import open_again, undo_hand_over

pytestmark = pytest.mark.django_db


@pytest.fixture
def ticket() -> Ticket:
    """Ready, with a lowers service on it; the one before was 200 days ago."""
    made = ticket_with_steps("lowers-off", "oil-in-legs", state=Ticket.State.READY)
    with_interval(made.unit, months=12)
    before = timezone.localdate() - dt.timedelta(days=200)
    note_service_elsewhere(unit=made.unit, level="lowers", on=before, told_by="Another shop", by=None)
    return made


def due(ticket: Ticket) -> dt.date:
    (forecast,) = standing_of(ticket.unit, timezone.localdate()).forecasts
    return forecast.due


@pytest.mark.parametrize("reason", ["", "Rebound was not put back"])
def test_undone_it_moves_no_due_day_and_handed_over_again_it_does(ticket: Ticket, reason: str) -> None:
    before = due(ticket)
    hand_it_over(ticket)
    after = due(ticket)
    assert after > before
    if reason:
        open_again(ticket=ticket, reason=reason, by=None, seen_version=ticket.version)
    else:
        undo_hand_over(ticket=ticket, by=None, seen_version=ticket.version)
    assert due(ticket) == before
    assert not ServiceDone.objects.filter(ticket=ticket).exists()
    assert "Counts no more as lowers service, until it is handed back again" in logged(ticket)
    hand_it_over(ticket)
    assert due(ticket) == after


def test_the_counter_corrects_no_services_of_what_is_open_again(ticket: Ticket) -> None:
    hand_it_over(ticket)
    open_again(ticket=ticket, reason="Not right", by=None, seen_version=ticket.version)
    with pytest.raises(ValidationError, match="Hand the unit back first"):
        correct_services_done(ticket=ticket, levels=["spring"], by=None)
