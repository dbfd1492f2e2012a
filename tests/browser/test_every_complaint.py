"""Every shipped checklist worked on the tablet as a mechanic would, from the first reading to ready and the report.

The walks that run always find a cause from outside, which is how most forks go home. Ten of those marked `long` take
the fork apart first: `python3 manage.py test -m long tests/browser/test_every_complaint.py`.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

import pytest
from playwright.sync_api import Page, expect

from diagnosis.layout_plans import CAUSE, FINDINGS
from diagnosis.models import Cause, Checklist, Reading, Run, Tick
from diagnosis.runs_rules import causes_of
from specs.models import SuspensionModel
from tests.browser.reading_steps import answer_step, keep_the_wait, read_step
from tests.factories import TicketFactory, TorqueToolFactory
from tests.shipped import shipped_checklist
from workshop.documents import customer_report
from workshop.models import PartLine, Ticket, User
from workshop.torque.models import BoltRecord
from workshop.work.unresolved import unresolved_lines

SignIn = Callable[[Page, User], None]


@dataclass(frozen=True)
class Walk:
    """A checklist, the demo's unit it is worked on, and the check that finds the cause; none in a routine service."""

    checklist: str
    model: str
    travel_mm: int
    found_at: str = ""
    cause: str = ""
    most_taps: int | None = None
    """From the ticket taken to the ticket ready, a typed reading counted as one; held where it was counted."""


SHORT = [
    Walk("harsh-or-sticky", "Culvert", 150, "free-the-axle", "axle-bind"),
    Walk("knocks-or-play", "Curlew", 120, "check-headset", "headset-loose"),
    Walk("loses-air", "Moraine", 170, "soap-valve", "valve-core-leak"),
    Walk("no-rebound-control", "Plume", 130, "knob-and-screw", "knob-slips"),
    Walk("not-full-travel", "Cobble", 160, "sag-before", "pressure-high"),
    Walk("oil-at-seals", "Culvert", 160, "clean-under-lip", "dirt-under-lip"),
    Walk("sits-low", "Culvert", 160, "bleed-legs", "leg-vacuum", most_taps=28),
    Walk("tops-out", "Quern", 160, "slow-the-rebound", "rebound-too-fast"),
    Walk("shock-loses-air", "Sluice", 60, "shock-soap-valve", "valve-core-leak"),
    Walk("shock-sits-low", "Sluice", 60, "shock-pull-long", "shock-port-blocked"),
    Walk("routine-lowers-service", "Culvert", 160),
    Walk("shock-air-can-service", "Sluice", 65),
]
LONG = [
    Walk("harsh-or-sticky", "Culvert", 150, "spring-grease-check", "spring-grease-dry"),
    Walk("knocks-or-play", "Curlew", 120, "inspect-bushings", "bushing-worn"),
    Walk("loses-air", "Moraine", 170, "inspect-piston-seals", "worn-piston-seal"),
    Walk("no-rebound-control", "Plume", 130, "damper-side-leak", "damper-seal-leak"),
    Walk("not-full-travel", "Cobble", 160, "shaft-length-check", "wrong-travel-spring"),
    Walk("oil-at-seals", "Culvert", 160, "wiper-seat", "wiper-crept"),
    Walk("sits-low", "Culvert", 160, "inspect-port", "port-blocked", most_taps=72),
    Walk("tops-out", "Culvert", 160, "inspect-top-out-bumper", "top-out-bumper"),
    Walk("shock-loses-air", "Sluice", 60, "shock-inspect-can-seals", "can-outer-seal"),
    Walk("shock-sits-low", "Sluice", 60, "shock-inspect-port", "shock-port-blocked"),
]
# Each walk asks the tablet and the server for the same things with other words: a fork, a shock and a service stand
# for all. The others are sent without a browser in tests/workshop/bench/test_every_complaint_sent.py, and long here.
IN_THE_BROWSER = {"sits-low", "shock-loses-air", "routine-lowers-service"}
ON_ARRIVAL = {"sits-low": {"rest_travel": "28 mm"}, "shock-sits-low": {"rest_travel": "9 mm"}}
READ = {
    "rest_travel": "4 mm", "pump_pressure": "80 psi", "pressure_set": "82 psi", "pressure_recheck": "5.62 bar",
    "pressure_start": "82 psi", "pressure_hose": "80 psi", "pressure_after_wait": "74 psi",
    "pressure_reached": "82 psi", "rebound_clicks": "7", "compression_clicks": "5", "sag": "30 mm",
    "full_travel": "150 mm", "travel_used": "155 mm",
    "spacers_found": "3", "spacers_left": "2", "measured_air_leg": "6 ml", "measured_damper_leg": "9 ml",
    "caliper_torque": "7 N·m", "axle_torque": "12 N·m", "stem_torque": "6 N·m", "mount_torque": "10 N·m",
    "foot_torque_air_leg": "8 N·m", "foot_torque_damper_leg": "8", "oil_air_leg": "10 ml", "oil_damper_leg": "15 ml",
}  # fmt: skip
ON_A_COIL = {"Quern": {"rest_travel": "1 mm"}}  # it stands fully extended
OPTIONAL = {"compression_clicks", "oil_drained_air_leg", "oil_drained_damper_leg", "top_cap_torque"}
NOT_USED = {"Coil spring"}  # brought by a finding on an air fork, “Coil forks only”
MOST_STEPS = 60
# A reading filled in is a tap on its field, a tool chosen from a list is two: on the list, and on the tool.
COUNT_TAPS = """(() => {
  const add = (taps) => { sessionStorage.taps = Number(sessionStorage.taps || 0) + taps; };
  addEventListener("pointerup", () => add(1), true);
  addEventListener("input", ({ target }) => {
    if (target.matches("select")) add(2);
    else if (target.matches("input:not([type=radio], [type=checkbox])")) add(1);
  }, true);
})()"""


@pytest.fixture
def mechanic(people: dict[str, User]) -> User:
    return people["mechanic"]


@pytest.mark.parametrize(
    "walk",
    [pytest.param(walk, marks=() if walk.checklist in IN_THE_BROWSER else pytest.mark.long) for walk in SHORT],
    ids=lambda walk: walk.checklist,
)
def test_a_complaint_is_worked_from_the_bench_to_ready(
    walk: Walk, tablet: Page, sign_in: SignIn, mechanic: User, allowed_problems: list[str]
) -> None:
    _work(walk, tablet, sign_in, mechanic, allowed_problems)


@pytest.mark.long
@pytest.mark.parametrize("walk", LONG, ids=lambda walk: walk.checklist)
def test_a_complaint_is_found_inside_and_cured(
    walk: Walk, tablet: Page, sign_in: SignIn, mechanic: User, allowed_problems: list[str]
) -> None:
    ticket = _work(walk, tablet, sign_in, mechanic, allowed_problems)
    if ticket.unit.kind == "fork":
        assert {record.bolt for record in BoltRecord.objects.all()} >= {"foot_air_leg", "foot_damper_leg"}
    else:
        assert Reading.objects.get(key="mount_torque").typed == READ["mount_torque"]


def _work(walk: Walk, tablet: Page, sign_in: SignIn, mechanic: User, allowed_problems: list[str]) -> Ticket:
    ticket = booked_in(walk, mechanic)
    sign_in(tablet, mechanic)
    tablet.add_init_script(COUNT_TAPS)
    _walk(tablet, ticket, walk, allowed_problems)
    parts = tablet.locator("main h2").all_inner_texts()
    assert parts.index("Work done") < parts.index("Checklists")  # nothing is left to do: the way off comes first
    finish(tablet, ticket, allowed_problems)
    taps = tablet.evaluate("Number(sessionStorage.taps)")
    assert taps > 0
    assert walk.most_taps is None or taps <= walk.most_taps
    assert_worked(ticket, walk)
    return ticket


def assert_worked(ticket: Ticket, walk: Walk) -> None:
    """It is ready, its parts are accounted for, and the report says what was found and that it was proved."""
    for line in ticket.part_lines.all():
        assert line.status == (PartLine.Status.DROPPED if line.title in NOT_USED else PartLine.Status.USED)
    ticket.refresh_from_db()
    assert ticket.state == Ticket.State.READY
    run = Run.objects.get()
    assert run.ended_at is not None
    report = customer_report.gather_customer_report(ticket, "")
    assert report["proof"]
    if walk.found_at:
        assert [cause["title"] for cause in report["searches"][0]["found"]] == [Cause.objects.get(key=walk.cause).title]
        assert Tick.objects.get(run=run, outcome="found", cause__isnull=False).step.key == walk.found_at
    else:
        assert report["routine"]


def booked_in(walk: Walk, mechanic: User) -> Ticket:
    checklist = shipped_checklist(walk.checklist)
    model = SuspensionModel.objects.get(name=walk.model)
    shop = mechanic.shop
    ticket: Ticket = TicketFactory(
        shop=shop,
        unit__model=model,
        unit__travel_m=walk.travel_mm / 1000,
        complaint_words=checklist.complaint.symptoms[0],
    )
    ticket.complaints.add(checklist.complaint)
    TorqueToolFactory(shop=shop, low_nm=2.0, high_nm=20.0)
    return ticket


def _walk(page: Page, ticket: Ticket, walk: Walk, allowed_problems: list[str]) -> None:
    page.goto(f"/bench/{ticket.number}/")
    page.get_by_role("button", name="Start work").tap()
    page.get_by_role("button", name=re.compile("^Start “")).first.tap()
    page.wait_for_url(re.compile("/run/"))
    steps = {step.key: step for step in Checklist.objects.get(key=walk.checklist).steps.all()}
    arriving = dict(ON_ARRIVAL.get(walk.checklist, {}))
    readings = READ | ON_A_COIL.get(walk.model, {})
    for _ in range(MOST_STEPS):
        key = page.url.rstrip("/").rsplit("/", 1)[1]
        if key == str(ticket.number):
            break
        read_step(page, lambda reading: arriving.pop(reading, readings[reading]), leave=OPTIONAL)
        keep_the_wait(page)
        if key == walk.found_at:
            several = len(causes_of(steps[key])) > 1
            name = Cause.objects.get(key=walk.cause).title if several else FINDINGS[CAUSE]
            button = page.get_by_role("button", name=name, exact=True)
        else:
            button = page.get_by_role("group", name="Answer").get_by_role("button").first
        answer_step(page, button, allowed_problems)


def finish(page: Page, ticket: Ticket, allowed_problems: list[str]) -> None:
    """Ready asks first what became of each part that the finding and the steps brought."""
    asked = unresolved_lines(ticket)
    if asked:
        allowed_problems.append("status of 422")
    page.get_by_role("button", name="Work done: it is ready").tap()
    if asked:
        expect(page.get_by_role("heading", level=1)).to_have_text("Which parts were used?")
        for line in asked:
            if len(asked) == 1 or line.title in NOT_USED:
                became = "Not used" if line.title in NOT_USED else "Used"
                one = page.get_by_role("group", name=line.title, exact=True)
                one.get_by_role("radio", name=became, exact=True).check()
        if len(asked) > 1:
            page.get_by_role("button", name="All the rest were used").tap()
        page.get_by_role("button", name="Keep this, and it is ready").tap()
    expect(page.get_by_text(f"Ticket {ticket.number} is ready.")).to_be_visible()
