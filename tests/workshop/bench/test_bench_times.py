"""Bench time of a ticket and its steps, and putting a figure right by hand."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
from django.db import IntegrityError, transaction
from django.test import Client
from django.utils import timezone
from pytest_django import DjangoAssertNumQueries

from diagnosis.models import MinutesCorrection, Run
from diagnosis.runs_state import states_of
from tests.bench_runs import url
from tests.factories import TickFactory, UserFactory
from tests.known import known
from tests.shipped import shipped_checklist
from workshop.bench.bench_times import ticket_time
from workshop.models import Shop, Ticket, User
from workshop.web.durations import duration_words
from workshop.work.work import run_states, start_checklist

pytestmark = pytest.mark.django_db


@pytest.fixture
def worked(run: Run) -> Run:
    """Two steps of four and six minutes, and one after a lunch of an hour and a half."""
    for key, minutes in (("record-arrival", 4), ("arrival-pressure", 10), ("record-clicks", 100)):
        step = run.checklist.steps.get(key=key)
        ticked_at = run.started_at + dt.timedelta(minutes=minutes)
        TickFactory(run=run, step=step, outcome="done", ticked_at=ticked_at)
    return run


def correct(bench: Client, ticket: Ticket, run: Run, typed: str, key: str = "record-clicks", **more: str) -> int:
    seen = MinutesCorrection.objects.filter(run=run, step__key=key).last()
    form = {"minutes": typed, "client_id": str(uuid.uuid4()), "seen": str(seen.pk) if seen else ""} | more
    return bench.post(url("correct_minutes", ticket, run.pk, key), form).status_code


def test_it_is_shown_with_the_pauses_left_out(bench: Client, ticket: Ticket, worked: Run) -> None:
    text = bench.get(url("ticket", ticket)).text
    assert "Bench time 10 min" in text
    assert "1 h 30 min left out as pauses" in text


def test_each_step_has_its_own_minutes(bench: Client, ticket: Ticket, worked: Run) -> None:
    time = ticket_time(run_states(ticket))
    assert {row.state.key: round(row.time.minutes) for row in time.rows} == {
        "record-arrival": 4, "arrival-pressure": 6, "record-clicks": 0,
    }  # fmt: skip
    assert "1 h 30 min left out as a pause" in bench.get(url("times", ticket)).text


def test_a_correction_counts_and_the_ticks_stay(bench: Client, ticket: Ticket, worked: Run) -> None:
    before = list(worked.ticks.values())
    assert correct(bench, ticket, worked, "7") == 302
    assert correct(bench, ticket, worked, "2,5 min") == 302
    assert list(worked.ticks.values()) == before
    assert [row.minutes for row in MinutesCorrection.objects.all()] == [7.0, 2.5]
    time = ticket_time(run_states(ticket))
    assert time.minutes == pytest.approx(12.5)
    assert (
        time.rows[2].remark == f"corrected by {time.rows[2].corrected_by}; the clock says 0 min and 1 h 30 min of pause"
    )
    assert "2.5 min" in bench.get(url("times", ticket)).text
    assert ticket.events.filter(kind="minutes_corrected").count() == 2


def test_sent_twice_it_is_one_correction(bench: Client, ticket: Ticket, worked: Run) -> None:
    client_id = str(uuid.uuid4())
    for _ in range(2):
        assert correct(bench, ticket, worked, "7", client_id=client_id) == 302
    assert MinutesCorrection.objects.count() == 1
    assert ticket.events.filter(kind="minutes_corrected").count() == 1


def test_what_somebody_else_put_right_meanwhile_is_shown_and_not_overwritten(
    bench: Client, ticket: Ticket, worked: Run, shop: Shop
) -> None:
    other = Client()
    other.force_login(UserFactory(shop=shop, owner=True, first_name="Imke", last_name="Ros"))
    assert correct(other, ticket, worked, "12") == 302
    form = {"minutes": "7", "client_id": str(uuid.uuid4()), "seen": ""}
    answer = bench.post(url("correct_minutes", ticket, worked.pk, "record-clicks"), form)
    assert answer.status_code == 409
    assert "Meanwhile Imke Ros put 12 min here" in answer.text
    assert 'value="7" aria-invalid="true"' in answer.text
    assert MinutesCorrection.objects.get().minutes == 12
    seen = MinutesCorrection.objects.get().pk
    assert f'name="seen" value="{seen}"' in answer.text
    assert correct(bench, ticket, worked, "7") == 302
    assert ticket_time(run_states(ticket)).rows[2].time.minutes == 7


def test_several_complaints_stand_under_their_names(bench: Client, ticket: Ticket, worked: Run, mechanic: User) -> None:
    assert 'scope="rowgroup"' not in bench.get(url("times", ticket)).text
    oily = start_checklist(ticket=ticket, checklist=shipped_checklist("oil-at-seals"), by=mechanic)
    TickFactory(run=oily, step=oily.checklist.steps.get(key="oil-on-brake"), outcome="ruled_out")
    text = bench.get(url("times", ticket)).text
    assert text.count('scope="rowgroup"') == 2
    assert text.index(">Sits low in its travel</th>") < text.index(">Oil at the seals</th>")


@pytest.mark.parametrize("typed", ["", "a while", "-1", "1441", "nan", "inf"])
def test_what_is_no_number_of_minutes_is_refused_beside_the_field_and_kept(
    bench: Client, ticket: Ticket, worked: Run, typed: str
) -> None:
    answer = bench.post(url("correct_minutes", ticket, worked.pk, "record-clicks"), {"minutes": typed})
    assert answer.status_code == 422
    assert 'id="minutes-error"' in answer.text
    assert f'value="{typed}" aria-invalid="true"' in answer.text
    assert not MinutesCorrection.objects.exists()


def test_a_step_that_was_not_ticked_has_nothing_to_correct(bench: Client, ticket: Ticket, worked: Run) -> None:
    assert correct(bench, ticket, worked, "7", key="clean-outside") == 404
    assert not MinutesCorrection.objects.exists()


def test_only_mechanics_and_the_owner_correct(client: Client, ticket: Ticket, worked: Run, shop: Shop) -> None:
    client.force_login(UserFactory(shop=shop, role="counter"))
    assert correct(client, ticket, worked, "7") == 403
    assert "Correct<" not in client.get(url("times", ticket)).text


def test_the_database_refuses_negative_minutes(worked: Run) -> None:
    step = known(worked.checklist.steps.first())
    with pytest.raises(IntegrityError), transaction.atomic():
        MinutesCorrection.objects.create(run=worked, step=step, minutes=-1)


def test_it_takes_one_query(worked: Run, ticket: Ticket, django_assert_num_queries: DjangoAssertNumQueries) -> None:
    states = states_of([Run.objects.select_related("checklist").get(pk=worked.pk)])
    with django_assert_num_queries(1):
        ticket_time(states)
    MinutesCorrection.objects.create(
        run=worked, step=worked.checklist.steps.get(key="record-clicks"), minutes=3, by=UserFactory(), at=timezone.now()
    )
    with django_assert_num_queries(1):
        assert ticket_time(states).rows[2].corrected_by


@pytest.mark.parametrize(
    ("minutes", "text"),
    [(0, "0 min"), (0.3, "under 1 min"), (12.4, "12 min"), (60, "1 h"), (100, "1 h 40 min")],
)
def test_minutes_read_as_people_say_them(minutes: float, text: str) -> None:
    assert duration_words(minutes) == text
