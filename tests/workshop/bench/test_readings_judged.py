"""Readings are held against this unit's own values where they are typed: in the page, and again at the tick.

The steps here are the shipped ones under keys of their own: nothing may know them by key.
"""

from __future__ import annotations

import datetime as dt
import html
import uuid
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from diagnosis.layout import step_data
from diagnosis.models import Reading, Run, StepTimer, Tick
from diagnosis.runs import start_run
from tests.bench_runs import form_of, url
from tests.factories import ChecklistFactory, SpecValueFactory, StepFactory, TicketRunFactory
from tests.shipped import shipped_folder
from workshop.models import Ticket
from workshop.tickets.models import SettingsRecord
from workshop.torque.models import BoltRecord, TorqueTool
from workshop.torque.tools import register_tool

pytestmark = pytest.mark.django_db

_OWN = {
    "oil-in-legs": "fill-both",
    "foot-fasteners-on": "close-feet",
    "prove-sag": "sit-on-it",
    "prove-pressure": "wait-for-air",
    "record-clicks": "count-it",
    "arrival-pressure": "as-it-came",
}
_ML, _PSI = 1e-6, 6894.757293168361
_VALUES = {
    "oil_volume_air_leg": (10 * _ML, 0.5 * _ML),
    "oil_volume_damper_leg": (15 * _ML, 0.5 * _ML),
    "foot_torque_air_leg": (8.0, 0.4),
    "foot_torque_damper_leg": (8.0, 0.4),
    "sag_low": (0.15, None),
    "sag_high": (0.20, None),
    "rebound_clicks": (20.0, None),
    "max_pressure": (120 * _PSI, None),
}
LEGS = {"reading-oil_air_leg": "10", "reading-oil_damper_leg": "15"}
FEET = {"reading-foot_torque_air_leg": "8", "reading-foot_torque_damper_leg": "8"}


@pytest.fixture
def own(ticket: Ticket) -> Run:
    """A run of the shop's own checklist, on a fork of 160 mm whose values are known."""
    checklist = ChecklistFactory()
    steps = {step.key: step for step in shipped_folder().shared_steps}
    for position, (shipped, key) in enumerate(_OWN.items()):
        free = {"key": key, "position": position, "needs": [], "requires": {}, "only_if": {}}
        StepFactory(checklist=checklist, **{**step_data(steps[shipped]), **free})
    run = start_run(checklist=checklist, facts=ticket.unit.facts(), by=None)
    TicketRunFactory(ticket=ticket, run=run)
    ticket.unit.travel_m = 0.160
    ticket.unit.save()
    for quantity, (magnitude, tolerance) in _VALUES.items():
        SpecValueFactory(model=ticket.unit.model, quantity=quantity, magnitude_si=magnitude, tolerance_si=tolerance)
    return run


def _answer(bench: Client, ticket: Ticket, run: Run, key: str, outcome: str, **sent: str) -> Any:
    return bench.post(url("answer", ticket, run.pk, key), form_of(run, outcome, **sent))


def _text(answer: Any) -> str:
    return " ".join(html.unescape(answer.text).split())


@pytest.mark.parametrize(
    ("key", "outcome", "sent", "says"),
    [
        ("fill-both", "done", {"reading-oil_air_leg": "15", "reading-oil_damper_leg": "10"}, "Are the legs mixed up?"),
        ("fill-both", "done", LEGS | {"reading-oil_air_leg": "25"}, "both legs together"),
        ("fill-both", "done", LEGS | {"reading-oil_damper_leg": "150"}, "Was 15 ml meant?"),
        ("sit-on-it", "proved", {"reading-sag": "64"}, "64 mm, 40 %: outside 15 to 20 %."),
        ("sit-on-it", "proved", {"reading-sag": "40 %"}, "64 mm, 40 %: outside 15 to 20 %."),
        ("count-it", "done", {"reading-rebound_clicks": "25"}, "25 clicks: outside 0 clicks to 20 clicks."),
        ("close-feet", "done", FEET | {"reading-foot_torque_air_leg": "7"}, "7 N·m: outside 7.6 N·m to 8.4 N·m."),
    ],
)
def test_outside_what_is_wanted_it_is_taken_with_a_reason_only(
    bench: Client, ticket: Ticket, own: Run, key: str, outcome: str, sent: dict[str, str], says: str
) -> None:
    refused = _answer(bench, ticket, own, key, outcome, **sent)
    assert refused.status_code == 422
    assert says in _text(refused)
    assert "say why it is so all the same" in _text(refused)
    assert not Tick.objects.exists()
    assert not BoltRecord.objects.exists()

    reasons = {name.replace("reading-", "reason-"): "measured twice" for name in sent}
    assert _answer(bench, ticket, own, key, outcome, **sent, **reasons).status_code == 302
    outside = Reading.objects.filter(outside=True)
    assert outside
    assert {reading.reason for reading in outside} == {"measured twice"}
    assert not Reading.objects.filter(outside=False).exclude(reason="").exists()


@pytest.mark.parametrize("reason", ["", "the wrench said so"])
@pytest.mark.parametrize(
    ("key", "outcome", "sent", "says"),
    [
        ("close-feet", "done", FEET | {"reading-foot_torque_air_leg": "15"}, "above the top of the range on record"),
        ("close-feet", "done", FEET | {"reading-foot_torque_damper_leg": "70"}, "Was it read in in·lbf?"),
        ("wait-for-air", "proved", {"reading-pressure_set": "121"}, "above the maximum of this fork, 120 psi"),
        ("wait-for-air", "not_proved", {"reading-pressure_set": "121"}, "above the maximum of this fork, 120 psi"),
    ],
)
def test_above_a_maximum_it_is_never_taken(
    bench: Client, ticket: Ticket, own: Run, key: str, outcome: str, sent: dict[str, str], says: str, reason: str
) -> None:
    reasons = {name.replace("reading-", "reason-"): reason for name in sent}
    refused = _answer(bench, ticket, own, key, outcome, **sent, **reasons)
    assert refused.status_code == 422
    assert says in _text(refused)
    assert not Tick.objects.exists()
    assert not Reading.objects.exists()
    assert not BoltRecord.objects.exists()


def test_a_pressure_found_above_the_maximum_is_a_fact_once_it_is_meant(bench: Client, ticket: Ticket, own: Run) -> None:
    sent = {"reading-pump_pressure": "130"}
    assert 'name="above_maximum"' in _answer(bench, ticket, own, "as-it-came", "done", **sent).text
    assert _answer(bench, ticket, own, "as-it-came", "done", above_maximum="on", **sent).status_code == 302
    assert Reading.objects.get().outside


def test_in_tolerance_it_is_taken_and_kept_with_what_it_was_held_against(
    bench: Client, ticket: Ticket, own: Run
) -> None:
    assert _answer(bench, ticket, own, "fill-both", "done", **LEGS).status_code == 302
    assert _answer(bench, ticket, own, "sit-on-it", "proved", **{"reading-sag": "18 %"}).status_code == 302
    kept = {reading.key: reading for reading in Reading.objects.all()}
    assert kept["oil_air_leg"].held_against["value"] == pytest.approx(10 * _ML)
    assert kept["sag"].magnitude_si == pytest.approx(0.0288)
    assert (kept["sag"].held_against["low"], kept["sag"].held_against["whole"]) == (pytest.approx(0.024), 0.160)
    assert not any(reading.outside for reading in kept.values())


def test_an_answer_that_says_it_is_not_well_needs_no_reason(bench: Client, ticket: Ticket, own: Run) -> None:
    assert _answer(bench, ticket, own, "sit-on-it", "not_proved", **{"reading-sag": "64"}).status_code == 302
    assert Reading.objects.get().outside


def test_a_reading_of_a_failed_proof_does_not_prove_it_afterwards(bench: Client, ticket: Ticket, own: Run) -> None:
    _answer(bench, ticket, own, "sit-on-it", "not_proved", **{"reading-sag": "64"})
    assert _answer(bench, ticket, own, "sit-on-it", "proved").status_code == 422
    assert Tick.objects.get().outcome == "not_proved"
    assert _answer(bench, ticket, own, "sit-on-it", "proved", **{"reading-sag": "28"}).status_code == 302


@pytest.mark.parametrize("key", ["fill-both", "close-feet", "count-it", "sit-on-it", "wait-for-air"])
def test_what_must_be_read_is_not_left_empty(bench: Client, ticket: Ticket, own: Run, key: str) -> None:
    outcome = "proved" if key in ("sit-on-it", "wait-for-air") else "done"
    refused = _answer(bench, ticket, own, key, outcome, **{"reason-wait-not-kept": "why not"})
    assert refused.status_code == 422
    assert "cannot be answered without it" in _text(refused)
    assert not Tick.objects.exists()


def test_what_is_not_on_record_is_said_and_judges_nothing(bench: Client, ticket: Ticket, own: Run) -> None:
    ticket.unit.model = None
    ticket.unit.save()
    judged = bench.post(url("judge", ticket, own.pk, "fill-both"), form_of(own, "", **LEGS))
    assert "“Lower-leg oil, spring side” is not on record: nothing is judged." in _text(judged)
    assert _answer(bench, ticket, own, "fill-both", "done", **LEGS).status_code == 302
    assert all(not reading.held_against and not reading.outside for reading in Reading.objects.all())


def test_while_it_is_typed_the_page_says_how_it_stands(bench: Client, ticket: Ticket, own: Run) -> None:
    mixed = {"reading-oil_air_leg": "15", "reading-oil_damper_leg": "15"}
    judged = bench.post(url("judge", ticket, own.pk, "fill-both"), form_of(own, "", **mixed))
    assert 'data-outside="oil_air_leg"' in judged.text
    assert 'data-outside="oil_damper_leg"' not in judged.text
    assert "15 ml: within 14.5 ml to 15.5 ml." in _text(judged)
    too_tight = FEET | {"reading-foot_torque_air_leg": "15"}
    judged = bench.post(url("judge", ticket, own.pk, "close-feet"), form_of(own, "", **too_tight))
    assert "15 N·m is above the top of the range on record, 8.4 N·m." in _text(judged)
    assert not Reading.objects.exists()


def test_one_tap_enters_what_is_shown_and_nothing_that_is_measured(bench: Client, ticket: Ticket, own: Run) -> None:
    filled = bench.get(url("step", ticket, own.pk, "fill-both")).text
    assert 'data-as-shown="10"' in filled
    assert 'data-as-shown="15"' in filled
    assert "data-as-shown" not in bench.get(url("step", ticket, own.pk, "sit-on-it")).text
    _answer(
        bench, ticket, own, "fill-both", "done", **{"reading-oil_air_leg": "10 ml", "reading-oil_damper_leg": "15 ml"}
    )
    assert {reading.by_id for reading in Reading.objects.all()} == {int(bench.session["_auth_user_id"])}


def _tool(ticket: Ticket, high_nm: float = 15.0, *, until: int = 30) -> TorqueTool:
    today = timezone.localdate()
    return register_tool(
        shop=ticket.shop, number=f"TW-{high_nm:g}", name="Wrench", low_nm=2.0, high_nm=high_nm,
        tool_class=TorqueTool.ToolClass.SETTING, calibrated_on=today - dt.timedelta(days=400),
        calibrated_until=today + dt.timedelta(days=until),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("high_nm", "until", "says"),
    [(6.0, 30, "outside the range of TW-6"), (15.0, -3, "The calibration of TW-15 ran out")],
)
def test_a_tool_out_of_range_or_calibration_is_taken_with_a_reason_only(
    bench: Client, ticket: Ticket, own: Run, high_nm: float, until: int, says: str
) -> None:
    sent = FEET | {"tool-foot_air_leg": str(_tool(ticket, high_nm, until=until).pk)}
    refused = _answer(bench, ticket, own, "close-feet", "done", **sent)
    assert refused.status_code == 422
    assert says in _text(refused)
    assert not Tick.objects.exists()
    why = {"reason-foot_torque_air_leg": "the other wrench is broken"}
    assert _answer(bench, ticket, own, "close-feet", "done", **sent, **why).status_code == 302
    marks = BoltRecord.objects.get(bolt="foot_air_leg").marks
    assert any(says in mark for mark in marks)
    assert "Why all the same: the other wrench is broken" in marks


HELD = {"reading-pressure_set": "80", "reading-pressure_recheck": "80"}


def _timer(run: Run, minutes_ago: float, *, stopped_after: float | None = None) -> None:
    started = timezone.now() - dt.timedelta(minutes=minutes_ago)
    stopped = None if stopped_after is None else started + dt.timedelta(minutes=stopped_after)
    step = run.checklist.steps.get(key="wait-for-air")
    StepTimer.objects.create(
        run=run, step=step, seconds=1200, started_at=started, stopped_at=stopped, client_id=uuid.uuid4()
    )


@pytest.mark.parametrize(
    ("minutes_ago", "stopped_after", "is_kept"),
    [(None, None, False), (19.0, None, False), (20.0, None, True), (60.0, 21.0, True), (60.0, 3.0, False)],
)
def test_a_waiting_proof_needs_its_time(
    bench: Client,
    ticket: Ticket,
    own: Run,
    minutes_ago: float | None,
    stopped_after: float | None,
    is_kept: bool,
) -> None:
    Run.objects.filter(pk=own.pk).update(started_at=timezone.now() - dt.timedelta(hours=3))
    if minutes_ago is not None:
        _timer(own, minutes_ago, stopped_after=stopped_after)
    answer = _answer(bench, ticket, own, "wait-for-air", "proved", **HELD)
    assert answer.status_code == (302 if is_kept else 422)
    if is_kept:
        return
    assert "The wait of 20 minutes was not kept" in _text(answer)
    assert 'name="reason-wait-not-kept"' in answer.text
    assert not Tick.objects.exists()
    why = {"reason-wait-not-kept": "it stood overnight, pumped up by the other shift"}
    assert _answer(bench, ticket, own, "wait-for-air", "proved", **HELD, **why).status_code == 302
    assert Tick.objects.get().outcome == "left_early", "the reason is kept, and proves nothing"
    assert "The wait of 20 minutes was not kept" in Tick.objects.get().note
    assert "stood overnight" in Tick.objects.get().note


def test_the_wait_of_an_earlier_proof_does_not_count_again(bench: Client, ticket: Ticket, own: Run) -> None:
    Run.objects.filter(pk=own.pk).update(started_at=timezone.now() - dt.timedelta(hours=3))
    _timer(own, 25.0)
    assert _answer(bench, ticket, own, "wait-for-air", "proved", **HELD).status_code == 302
    again = _answer(bench, ticket, own, "wait-for-air", "proved", **HELD)
    assert again.status_code == 422
    assert "its timer was not started since the last answer" in _text(again)


def test_an_answer_ends_its_timer_so_that_the_next_wait_can_be_started(bench: Client, ticket: Ticket, own: Run) -> None:
    Run.objects.filter(pk=own.pk).update(started_at=timezone.now() - dt.timedelta(hours=3))
    _timer(own, 25.0)
    page = url("step", ticket, own.pk, "wait-for-air")
    refused = _answer(bench, ticket, own, "wait-for-air", "proved")
    assert refused.status_code == 422
    assert StepTimer.objects.get().stopped_at is None, "what is refused leaves it running"
    assert 'data-kind="start-timer"' not in bench.get(page).text
    assert _answer(bench, ticket, own, "wait-for-air", "proved", **HELD).status_code == 302
    assert StepTimer.objects.get().stopped_at is not None
    assert 'data-kind="start-timer"' in bench.get(page).text


def test_the_pressure_after_the_work_is_held_against_the_one_it_came_with(
    bench: Client, ticket: Ticket, own: Run
) -> None:
    SettingsRecord.objects.create(
        ticket=ticket, moment=SettingsRecord.Moment.ARRIVAL, pressure_pa=80 * _PSI, at=timezone.now()
    )
    sent = {"reading-pressure_set": "60", "reading-pressure_recheck": "60", "reason-wait-not-kept": "as told"}
    refused = _answer(bench, ticket, own, "wait-for-air", "proved", **sent)
    assert refused.status_code == 422
    assert "60 psi: outside 78 psi to 82 psi." in _text(refused)
    why = {"reason-pressure_set": "the rider asked for less"}
    assert _answer(bench, ticket, own, "wait-for-air", "proved", **sent, **why).status_code == 302
