"""Papers say only what was read, ticked and fitted: each sentence is asked who read it."""

from __future__ import annotations

import re
from typing import Any

import pytest
from django.utils import timezone

from diagnosis.layout import applies
from diagnosis.models import Reading, Run, Step, Tick
from diagnosis.repairs import repair_of
from diagnosis.runs import start_run
from tests.factories import (
    BoltRecordFactory,
    PartLineFactory,
    SuspensionUnitFactory,
    TicketFactory,
    TicketRunFactory,
    UserFactory,
)
from tests.shipped import shipped_checklist, shipped_folder
from tests.squeezed import squeezed
from workshop.documents.customer_report import gather_customer_report
from workshop.documents.rendering import html_of
from workshop.documents.work_order import gather_work_order
from workshop.models import Ticket
from workshop.portal.page import customer_page
from workshop.staff.models import User
from workshop.tickets.models import FindingAnswer, PartLine

pytestmark = pytest.mark.django_db
_WELL = {"check": "ruled_out", "work": "done", "proof": "proved"}
_ML = 1e-6
# Words that say of something that it is as it should be, or new.
_CERTIFIES = re.compile(
    r"\b(within|renewed|replaced|fresh|new (?!estimate)|(?:holds|held) its|tight again|as wanted|in tolerance)", re.I
)


@pytest.fixture
def clerk() -> User:
    return UserFactory()


def _ticket(clerk: User, kind: str = "fork", state: str = "ready") -> Ticket:
    waiting_for = "parts" if state == "waiting" else ""
    unit = SuspensionUnitFactory(shop=clerk.shop, customer__shop=clerk.shop, model=None, kind=kind, travel_m=0.160)
    return TicketFactory(
        shop=clerk.shop,
        customer=unit.customer,
        unit=unit,
        bike=None,
        state=state,
        complaint_words="It is odd",
        waiting_for=waiting_for,
    )


def _run(ticket: Ticket, key: str) -> Run:
    run = start_run(checklist=shipped_checklist(key), facts=ticket.unit.facts(), by=None)
    TicketRunFactory(ticket=ticket, run=run)
    return run


def _ticked(run: Run, step: Step, outcome: str, **readings: dict[str, Any]) -> None:
    """As the rows are, past every rule of the tick: an older shop's rows may be like that."""
    Tick.objects.create(run=run, step=step, outcome=outcome, ticked_at=timezone.now())
    for key, kept in readings.items():
        words = {"typed": "as read", "read_at": timezone.now()}
        Reading.objects.create(run=run, step=step, key=key, **(words | kept))


def _report(ticket: Ticket) -> tuple[dict[str, Any], str]:
    data = gather_customer_report(Ticket.objects.with_names().get(pk=ticket.pk), "")
    return data, squeezed(html_of("documents/customer_report.html", data))


@pytest.mark.parametrize("key", sorted(plan.key for plan in shipped_folder().checklists))
def test_a_checklist_answered_without_a_reading_certifies_nothing(clerk: User, key: str) -> None:
    kind = "shock" if key.startswith("shock") else "fork"
    ticket = _ticket(clerk, kind)
    run = _run(ticket, key)
    steps = [step for step in run.checklist.steps.all() if applies(step, run.facts) != "no"]
    for step in steps:
        _ticked(run, step, _WELL[step.kind])

    data, text = _report(ticket)
    assert data["proof"] == []
    assert data["fitted"] == []
    assert data["set_up"] is None
    assert not any(row["hand_back"] for row in data["settings"])
    said = " ".join(
        [row["text"] for row in data["done"]]
        + [f"{look['did']} {look['rules_out']}" for search in data["searches"] for look in search["tried"]]
    )
    measured = [step for step in steps if any(reading["required"] for reading in step.readings)]
    assert measured
    assert [step.key for step in measured if step.for_customer and step.for_customer in said] == []
    assert not _CERTIFIES.findall(said)
    values = [one["value"] for row in data["done"] for one in row["read"]]
    assert set(values) <= {"not recorded"}
    assert not re.findall(r"\d\s?(psi|bar|mm|ml|N·m|%|clicks)", said)
    assert "<strong>Parts and materials used:</strong>none on record." in text


SAG = {"magnitude_si": 0.028, "held_against": {"label": "Sag", "low": 0.024, "high": 0.032, "whole": 0.160}}
TOO_MUCH = SAG | {"magnitude_si": 0.064, "outside": True, "reason": "The rider wants it soft"}


def test_a_reading_is_told_with_what_it_was_held_against(clerk: User) -> None:
    ticket = _ticket(clerk)
    run = _run(ticket, "sits-low")
    _ticked(run, run.checklist.steps.get(key="prove-sag"), "proved", sag=SAG)
    data, text = _report(ticket)
    assert (data["proof"][0]["value"], data["proof"][0]["verdict"]) == ("28 mm, 17.5 %", "within 15 to 20 %")
    assert "Within 15 to 20 %." in text
    assert 'class="mark off"' not in text


@pytest.mark.parametrize("outcome", ["proved", "not_proved"])
def test_what_is_outside_stands_in_red_with_its_reason(clerk: User, outcome: str) -> None:
    ticket = _ticket(clerk)
    run = _run(ticket, "sits-low")
    _ticked(run, run.checklist.steps.get(key="prove-sag"), outcome, sag=TOO_MUCH)
    _, text = _report(ticket)
    assert '<td class="value off">64 mm, 40 %</td>' in text
    assert '<span class="mark off">Outside 15 to 20 %.</span>' in text
    assert "The rider wants it soft" in text
    assert ("Read with weight on the bike." in text) is (outcome == "proved")
    assert ('<span class="mark off">Not proved.</span>' in text) is (outcome == "not_proved")
    order = squeezed(html_of("documents/work_order.html", gather_work_order(ticket, "")))
    assert '<strong class="off">64 mm, 40 %, outside 15 to 20 %</strong>(The rider wants it soft)' in order


def test_legs_the_wrong_way_round_stand_in_red_beside_the_work(clerk: User) -> None:
    ticket = _ticket(clerk)
    run = _run(ticket, "routine-lowers-service")
    wrong = {
        key: {
            "magnitude_si": read * _ML,
            "held_against": {"label": "x", "low": (ml - 0.5) * _ML, "high": (ml + 0.5) * _ML, "value": ml * _ML},
            "outside": True,
            "reason": "written down so",
        }
        for key, read, ml in (("oil_air_leg", 15, 10), ("oil_damper_leg", 10, 15))
    }
    _ticked(run, run.checklist.steps.get(key="oil-in-legs"), "done", **wrong)
    _, text = _report(ticket)
    assert "We put oil into each leg." in text
    assert "15 ml, outside 9.5 ml to 10.5 ml</span>(written down so)" in text
    assert "10 ml, outside 14.5 ml to 15.5 ml</span>(written down so)" in text


def test_a_torque_that_nobody_wrote_down_is_said(clerk: User) -> None:
    ticket = _ticket(clerk)
    run = _run(ticket, "routine-lowers-service")
    _ticked(run, run.checklist.steps.get(key="refit-brake-wheel"), "done")
    _, text = _report(ticket)
    assert "Caliper bolts, torque used: not recorded" in text


def test_a_torque_written_down_beside_the_step_is_told(clerk: User) -> None:
    """The bolts' own page records it too: who tightened it there has not written nothing down."""
    ticket = _ticket(clerk)
    run = _run(ticket, "routine-lowers-service")
    _ticked(run, run.checklist.steps.get(key="refit-brake-wheel"), "done")
    BoltRecordFactory(ticket=ticket, bolt="caliper", torque_nm=7.0, typed="7", marks=["Calibration overdue"])
    _, text = _report(ticket)
    assert "Caliper bolts, torque used: 7 N·m</span>(Calibration overdue)" in text
    assert "Axle, torque used: not recorded" in text


def test_a_step_that_is_over_has_a_line_for_its_torques_alone(clerk: User) -> None:
    """What was not read there will not be; a torque can still be written down, and what had to be read is missed."""
    ticket = _ticket(clerk)
    run = _run(ticket, "oil-at-seals")

    def lines() -> dict[str, list[str]]:
        (checklist,) = gather_work_order(ticket, "")["checklists"]
        return {step["title"]: [row["label"] for row in step["readings"]] for step in checklist["steps"]}

    looked, bolted, arrived = (
        run.checklist.steps.get(key=key) for key in ("bleed-legs", "refit-brake-wheel", "record-arrival")
    )
    before = lines()
    for step, outcome in ((looked, "ruled_out"), (bolted, "done"), (arrived, "done")):
        _ticked(run, step, outcome)
    assert (before[looked.title] != [], lines()[looked.title]) == (True, [])
    assert lines() == before | {looked.title: []}


def test_a_part_was_fitted_only_if_it_was_used(clerk: User) -> None:
    ticket = _ticket(clerk)
    line = PartLineFactory(ticket=ticket, part=None, words="Wiper, invented", quantity=2)
    assert "none on record" in _report(ticket)[1]
    PartLine.objects.filter(pk=line.pk).update(status=PartLine.Status.USED)
    data, text = _report(ticket)
    assert data["fitted"] == ["2 × Wiper, invented"]
    assert "<strong>Parts and materials used:</strong>2 × Wiper, invented." in text


@pytest.mark.parametrize(
    ("state", "is_interim"),
    [("booked_in", True), ("on_the_bench", True), ("waiting", True), ("ready", False), ("handed_back", False)],
)
def test_a_report_in_mid_repair_says_so_and_names_no_next_service(clerk: User, state: str, is_interim: bool) -> None:
    ticket = _ticket(clerk, state=state)
    data, text = _report(ticket)
    assert data["heading"] == ("Interim report" if is_interim else "Service report")
    assert ("<strong>Interim report.</strong>The work is not finished." in text) is is_interim
    assert ("Next service" in text) is not is_interim
    assert ("Before the first ride" in text) is not is_interim
    assert ("Settings as it came" in text) is False  # nothing was read: no settings at all
    assert (data["next_service"] is None) is is_interim


def test_the_customers_page_says_so_too(clerk: User) -> None:
    ticket = _ticket(clerk, state="on_the_bench")
    assert customer_page(ticket).next_service is None
    Ticket.objects.filter(pk=ticket.pk).update(state="ready")
    assert customer_page(Ticket.objects.get(pk=ticket.pk)).next_service is not None


def test_a_cure_is_what_a_finding_takes_and_not_what_was_done(clerk: User) -> None:
    ticket = _ticket(clerk)
    run = _run(ticket, "oil-at-seals")
    step = run.checklist.steps.get(key="wiper-from-inside")
    _ticked(run, step, "found")
    _, text = _report(ticket)
    assert "<strong>What it takes:</strong>" in text
    assert "Repair:" not in text
    assert "No work is on record." in text


def _what_we_did_then(ticket: Ticket) -> str:
    _, text = _report(ticket)
    assert "What it takes" not in text
    return text.partition("<strong>What we did then:</strong>")[2].partition("<")[0]


def test_what_answers_a_finding_is_told_in_the_past_tense_and_no_plan_beside_it(clerk: User) -> None:
    """From the steps done and the parts used since: a plan, or one part or another, is nothing that was done."""
    ticket = _ticket(clerk)
    run = _run(ticket, "oil-at-seals")
    step = run.checklist.steps.get(key="wiper-from-inside")
    _ticked(run, step, "found")
    wiper = PartLineFactory(ticket=ticket, part=None, words="Wiper, invented", source="finding", step=step)
    (asked,) = repair_of(step, list(run.checklist.steps.all())).steps
    repair = run.checklist.steps.get(key=asked.key)
    _ticked(run, repair, "done")
    assert _what_we_did_then(ticket).startswith(repair.for_customer)
    assert "Wiper, invented" not in _what_we_did_then(ticket)  # it is only needed so far
    PartLine.objects.filter(pk=wiper.pk).update(status=PartLine.Status.USED)
    assert _what_we_did_then(ticket) == f"{repair.for_customer} Fitted: Wiper, invented."


def test_a_customers_no_stands_where_the_plan_did(clerk: User) -> None:
    ticket = _ticket(clerk)
    run = _run(ticket, "oil-at-seals")
    _ticked(run, run.checklist.steps.get(key="wiper-from-inside"), "found")
    FindingAnswer.objects.create(
        ticket=ticket, tick=run.ticks.get(), how="declined", words="Too dear", by=clerk, at=timezone.now()
    )
    _, text = _report(ticket)
    assert "The customer said no: Too dear" in text
    assert "What it takes" not in text
    assert "What we did then" not in text
