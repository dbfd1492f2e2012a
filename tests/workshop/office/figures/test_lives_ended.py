"""A life ends wherever its part was found bad or replaced as bad, whatever checklist said so; and was good until when.

Records only; the pages are in test_figure_screens.
"""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from django.utils import timezone

from diagnosis.models import Checklist, Run, Tick
from tests.factories import (
    CauseFactory,
    ChecklistFactory,
    ComplaintFactory,
    CustomerFactory,
    PartFactory,
    PartLineFactory,
    ShopFactory,
    StepFactory,
    SuspensionUnitFactory,
    TicketFactory,
    TicketRunFactory,
    TickFactory,
)
from workshop.intervals.models import WeeklyHours
from workshop.models import Shop, StateMove, SuspensionUnit, Ticket
from workshop.office.figures.lives import Life, Lives
from workshop.office.figures.period import last_months
from workshop.office.figures.service_life import lives_by_component

pytestmark = pytest.mark.django_db
DAY = dt.timedelta(days=1)


@pytest.fixture
def shop() -> Shop:
    return ShopFactory.create()


@pytest.fixture
def unit(shop: Shop) -> SuspensionUnit:
    """Ridden an hour a day; its wipers, bushings and spring seals were put in 300 days ago."""
    unit: SuspensionUnit = SuspensionUnitFactory.create(shop=shop, customer=CustomerFactory.create(shop=shop))
    WeeklyHours.objects.create(unit=unit, hours_per_week=7.0, since=timezone.localdate() - 400 * DAY, at=timezone.now())
    first = visit(unit, 300)
    for role in ("wiper", "bushing", "spring_seal", "damper"):
        PartLineFactory.create(ticket=first, part=PartFactory.create(role=role), status="used")
    return unit


def visit(unit: SuspensionUnit, days_ago: int) -> Ticket:
    """Booked in so many days ago and handed back the same day."""
    at = timezone.now() - days_ago * DAY
    ticket: Ticket = TicketFactory.create(
        shop=unit.shop, unit=unit, customer=unit.customer, booked_at=at, state_since=at, state=Ticket.State.HANDED_BACK,
        promised_on=timezone.localtime(at).date(),
    )  # fmt: skip
    StateMove.objects.create(ticket=ticket, to_state=Ticket.State.HANDED_BACK, at=at)
    return ticket


def run_of(ticket: Ticket, key: str = "sits-low") -> Run:
    complaint = ComplaintFactory.create(key=key)
    checklist = Checklist.objects.filter(complaint=complaint).first() or ChecklistFactory.create(complaint=complaint)
    run: Run = Run.objects.create(checklist=checklist, facts={}, started_at=ticket.booked_at, ended_at=ticket.booked_at)
    TicketRunFactory.create(ticket=ticket, run=run)
    return run


def answered(run: Run, outcome: str, *, cause: str = "", ends: tuple[str, ...] = (), **step: Any) -> Tick:
    if cause:
        step = {"ends_search": {cause: 0.9}, "answers": {}} | step
    made = StepFactory.create(checklist=run.checklist, **step)
    named = CauseFactory.create(key=cause, title=cause, ends_life=list(ends)) if cause else None
    tick: Tick = TickFactory.create(run=run, step=made, outcome=outcome, cause=named, ticked_at=run.started_at)
    return tick


def lives(shop: Shop, part: str) -> Lives:
    return lives_by_component(shop, last_months(timezone.localdate()), timezone.localdate())[part]


def the_life(shop: Shop, part: str) -> Life:
    (life,) = lives(shop, part).lives
    return life


def test_every_cause_of_a_checklist_ends_a_life_not_only_the_last(shop: Shop, unit: SuspensionUnit) -> None:
    found = visit(unit, 200)
    run = run_of(found)
    answered(run, "found", cause="seal-worn", ends=("spring-seals",))
    answered(run, "found", cause="bushing-worn", ends=("bushings",))
    for part in ("spring-seals", "bushings"):
        assert (the_life(shop, part).found_bad, the_life(shop, part).ticket) == (True, found.pk), part
    assert not the_life(shop, "wipers").found_bad


def test_a_failed_proof_makes_no_worn_part_good(shop: Shop, unit: SuspensionUnit) -> None:
    run = run_of(visit(unit, 200))
    answered(run, "found", cause="seal-worn", ends=("spring-seals",))
    answered(run, "not_proved", kind="proof")
    assert the_life(shop, "spring-seals").found_bad


def test_a_service_that_finds_the_part_bad_ends_its_life_without_a_cause(shop: Shop, unit: SuspensionUnit) -> None:
    """A routine checklist has no causes: its step says by the part it asks for what is bad."""
    run = run_of(visit(unit, 200), "routine-lowers")
    answered(run, "found", ends_search={}, answers={"found": {"parts": [{"role": "wiper", "quantity": 2}]}})
    assert the_life(shop, "wipers").found_bad
    assert not the_life(shop, "bushings").found_bad


def test_work_that_answers_a_finding_without_a_cause_says_what_was_bad(shop: Shop, unit: SuspensionUnit) -> None:
    run = run_of(visit(unit, 200), "routine-lowers")
    StepFactory.create(checklist=run.checklist, key="new-seals", kind="work", renews=["spring-seals"])
    answered(run, "found", ends_search={}, answers={"found": {"repair": ["new-seals"]}})
    assert the_life(shop, "spring-seals").found_bad


def test_what_is_found_by_the_way_ends_a_life_where_it_can_mean_nothing_else(shop: Shop, unit: SuspensionUnit) -> None:
    CauseFactory.create(key="wiper-worn", title="Worn", ends_life=["wipers"])
    CauseFactory.create(key="bushing-worn", title="Bushing", ends_life=["bushings"])
    CauseFactory.create(key="dirt", title="Dirt", ends_life=[])
    run = run_of(visit(unit, 200))
    answered(run, "found", ends_search={"wiper-worn": 0.9}, answers={})
    answered(run, "found", ends_search={"bushing-worn": 0.9, "dirt": 0.5}, answers={})
    assert the_life(shop, "wipers").found_bad
    assert not the_life(shop, "bushings").found_bad


def test_a_part_used_because_of_a_finding_was_replaced_as_bad(shop: Shop, unit: SuspensionUnit) -> None:
    found = visit(unit, 200)
    tick = answered(run_of(found), "found", cause="knock", ends=())
    PartLineFactory.create(
        ticket=found, part=PartFactory.create(role="damper"), status="used", source="finding", step=tick.step
    )
    PartLineFactory.create(ticket=found, part=PartFactory.create(role="wiper"), status="used", source="kit")
    damper, new = sorted(lives(shop, "damper").lives, key=lambda life: not life.found_bad)
    assert (damper.found_bad, damper.ticket, new.found_bad) == (True, found.pk, False)
    assert not any(life.found_bad for life in lives(shop, "wipers").lives)


def test_a_finding_taken_back_ends_nothing(shop: Shop, unit: SuspensionUnit) -> None:
    run = run_of(visit(unit, 200), "routine-lowers")
    tick = answered(run, "found", ends_search={}, answers={"found": {"parts": [{"role": "wiper"}]}})
    TickFactory.create(run=run, step=tick.step, outcome="taken_back")
    assert not the_life(shop, "wipers").found_bad


def test_it_was_good_at_the_last_check_that_would_have_found_it(shop: Shop, unit: SuspensionUnit) -> None:
    """New 300 days ago, seen good 240 days ago, not looked at 220 days ago, found bad 200 days ago."""
    wiper: dict[str, Any] = {"ends_search": {}, "answers": {"found": {"parts": [{"role": "wiper"}]}}}
    answered(run_of(visit(unit, 240), "routine-lowers"), "ruled_out", **wiper)
    answered(run_of(visit(unit, 220), "knocks"), "ruled_out", ends_search={"headset": 0.9})
    answered(run_of(visit(unit, 200), "routine-lowers"), "found", **wiper)
    life = the_life(shop, "wipers")
    assert life.found_bad
    assert [life.good_until_hours, life.hours] == pytest.approx([60, 100])


def test_a_check_that_rarely_finds_it_does_not_say_that_it_is_good(shop: Shop, unit: SuspensionUnit) -> None:
    CauseFactory.create(key="wiper-worn", title="Worn", ends_life=["wipers"])
    answered(run_of(visit(unit, 220)), "ruled_out", ends_search={"wiper-worn": 0.3})
    answered(run_of(visit(unit, 200)), "found", cause="wiper-worn", ends=("wipers",))
    assert the_life(shop, "wipers").good_until_hours == pytest.approx(70)  # the month before the complaint, and no more


def test_a_complaint_was_noticed_and_a_routine_finding_was_not(shop: Shop, unit: SuspensionUnit) -> None:
    run = run_of(visit(unit, 200), "routine-lowers")
    answered(run, "found", ends_search={}, answers={"found": {"parts": [{"role": "wiper"}]}})
    answered(run_of(visit(unit, 200)), "found", cause="seal-worn", ends=("spring-seals",))
    assert the_life(shop, "wipers").good_until_hours == 0
    assert the_life(shop, "spring-seals").good_until_hours == pytest.approx(70)


def test_lives_of_one_unit_say_whose_they_are(shop: Shop, unit: SuspensionUnit) -> None:
    assert the_life(shop, "wipers").unit == unit.pk
