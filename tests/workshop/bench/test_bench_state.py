"""The bench knows what state the fork is in: what is refused as dangerous, asked again, and not let go as ready."""

from __future__ import annotations

import uuid
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from diagnosis.models import Checklist, Run, Step, Tick
from diagnosis.runs import StepNeedsOthers, TypedReadings, UnitNotSo, start_run, take_back, tick
from diagnosis.runs_state import RunState, state_of, states_of
from tests.any_reading import any_reading
from tests.bench_runs import bolts_recorded, form_of, url
from tests.factories import TicketRunFactory, UserFactory
from tests.shipped import shipped_checklist
from workshop.models import Shop, Ticket, User
from workshop.work.bench_proof import finish_bench_work
from workshop.work.moves import LeftOpen, ProofMissing, move
from workshop.work.proof import missing_proof_of
from workshop.work.work import start_checklist

PLAIN = {"check": "ruled_out", "work": "done", "proof": "proved"}
OPENED = "“The lowers are off”"


def begun(ticket: Ticket, key: str) -> Run:
    run = start_run(checklist=shipped_checklist(key), facts=ticket.unit.facts(), by=None)
    TicketRunFactory(ticket=ticket, run=run)
    ticket.complaints.set([run.checklist.complaint])
    return run


def now(run: Run) -> RunState:
    return state_of(Run.objects.get(pk=run.pk))


def answer(run: Run, key: str, outcome: str) -> None:
    fresh = Run.objects.get(pk=run.pk)
    step = now(run).by_key[key].step
    typed = {plan["key"]: any_reading(plan) for plan in step.readings}
    tick(
        run=fresh, step_key=key, outcome=outcome, by=None, seen_version=fresh.version, client_id=uuid.uuid4(),
        readings=TypedReadings(typed),
    )  # fmt: skip


def finish(ticket: Ticket, by: User, reason: str = "") -> None:
    ticket.refresh_from_db()
    bolts_recorded(ticket, by)
    finish_bench_work(ticket=ticket, by=by, seen_version=ticket.version, reason_without_proof=reason)


def followed(run: Run, *, until: str = "", **answers: str) -> list[str]:
    """Follow the suggestions, each answer once as given and plain after that; gives the steps in their order."""
    given, walked = {key.replace("_", "-"): value for key, value in answers.items()}, []
    while (coming := now(run).next) is not None and coming.step.key != until:
        key = coming.step.key
        answer(run, key, given.pop(key, PLAIN[coming.step.kind]))
        walked.append(key)
        assert len(walked) < 150, walked
    return walked


class TestLosesAir:
    """Air out, new seal under the top cap, filled in stages, and the pressure does not hold."""

    @pytest.fixture
    def leaky(self, ticket: Ticket) -> Run:
        run = begun(ticket, "loses-air")
        walked = followed(run, until="wheel-out", soap_top_cap="found", prove_pressure="not_proved")
        assert walked.index("all-air-out") < walked.index("top-cap-reseal") < walked.index("fill-in-stages")
        return run

    def test_the_air_comes_out_again_before_the_feet(self, leaky: Run) -> None:
        walked = followed(leaky, until="lowers-off")
        assert "all-air-out" in walked[: walked.index("foot-fasteners-off")]

    def test_who_goes_his_own_way_is_refused_with_the_reason(self, bench: Client, ticket: Ticket, leaky: Run) -> None:
        answer(leaky, "wheel-out", "done")
        answer(leaky, "caliper-off", "done")
        address = url("answer", ticket, leaky.pk, "foot-fasteners-off")
        refused = bench.post(address, form_of(leaky, "done"))
        assert refused.status_code == 422
        assert "is dangerous now: there is air in the positive air chamber" in refused.text
        assert "First do “Let all the air out and prove it” again." in refused.text
        assert "foot-fasteners-off" not in now(leaky).outcomes
        answer(leaky, "all-air-out", "done")
        assert bench.post(address, form_of(leaky, "done")).status_code == 302

    def test_the_page_says_so_before_anything_is_pressed(self, bench: Client, ticket: Ticket, leaky: Run) -> None:
        page = bench.get(url("step", ticket, leaky.pk, "foot-fasteners-off")).text
        assert "Not now, it is dangerous:" in page
        assert "There is air in the positive air chamber" in page
        again = bench.get(url("step", ticket, leaky.pk, "all-air-out")).text
        assert "Not now, it is dangerous:" not in again

    def test_who_opens_it_as_it_came_hears_of_the_air_too(self, ticket: Ticket) -> None:
        run = begun(ticket, "loses-air")
        with pytest.raises(StepNeedsOthers, match=r"Dangerous now: nobody has let the air out of the positive air"):
            answer(run, "foot-fasteners-off", "done")
        with pytest.raises(StepNeedsOthers) as refused:
            answer(run, "foot-fasteners-off", "left_out")  # what was not done hurts nobody
        assert "Dangerous" not in str(refused.value)

    def test_a_step_asked_again_says_so_and_shows_no_answer_as_pressed(
        self, bench: Client, ticket: Ticket, leaky: Run
    ) -> None:
        followed(leaky, until="all-air-out")
        page = bench.get(url("step", ticket, leaky.pk, "all-air-out")).text
        assert "Once more." in page
        assert "aria-pressed" not in page
        assert "Next, once more" in page
        assert "is no longer as that left it" in page
        assert "Once more." not in bench.get(url("step", ticket, leaky.pk, "wheel-out")).text

    def test_a_proof_that_failed_is_asked_again_as_one_that_failed(
        self, bench: Client, ticket: Ticket, leaky: Run
    ) -> None:
        followed(leaky, until="prove-pressure")
        page = bench.get(url("step", ticket, leaky.pk, "prove-pressure")).text
        assert "Once more." in page
        assert "It was not proved" in page
        assert "is no longer as that left it" not in page

    def test_what_was_not_done_is_always_taken(self, leaky: Run) -> None:
        answer(leaky, "top-cap-reseal", "left_out")
        assert now(leaky).outcomes["top-cap-reseal"] == "left_out"

    def test_an_answer_taken_back_leaves_the_air_unknown(self, leaky: Run) -> None:
        for key in ("wheel-out", "caliper-off", "all-air-out"):
            answer(leaky, key, "done")
        assert now(leaky).unit.may_be_under_pressure == []
        fresh = Run.objects.get(pk=leaky.pk)
        with pytest.raises(ValueError, match="rests on it"):  # the new seal does
            take_back(run=fresh, step_key="all-air-out", by=None, seen_version=fresh.version, client_id=uuid.uuid4())
        answer(leaky, "all-air-out", "left_out")
        assert now(leaky).unit.conditions["positive_air"] == "unknown"
        with pytest.raises(ValueError, match=r"has to wait|is dangerous now"):
            answer(leaky, "foot-fasteners-off", "done")

    def test_to_the_end_it_is_ready(self, leaky: Run, ticket: Ticket, mechanic: User) -> None:
        followed(leaky)
        assert now(leaky).unit.open_parts == []
        assert Run.objects.get(pk=leaky.pk).ended_at is not None
        finish(ticket, mechanic)
        assert ticket.state == "ready"


class TestOpenAndReady:
    """Feet open, lowers off, oil out and the damper's seal head leaking: as a mechanic was called away from it."""

    @pytest.fixture
    def open_fork(self, ticket: Ticket) -> Run:
        run = begun(ticket, "oil-at-seals")
        followed(run, until="clean-lowers", damper_side_leak="found")
        return run

    def test_it_says_what_is_open_and_no_reason_helps(
        self, bench: Client, ticket: Ticket, open_fork: Run, mechanic: User
    ) -> None:
        refused = bench.post(url("finish", ticket), {"version": ticket.version, "reason": "The customer waits outside"})
        assert refused.status_code == 422
        for words in (OPENED, "“The foot fasteners are off”", "“The oil is out of the legs”", "“The wheel is out”"):
            assert words in refused.text
        ticket.refresh_from_db()
        assert ticket.state == "on_the_bench"
        for reason in ("", "Released without it"):
            with pytest.raises(LeftOpen):
                finish(ticket, mechanic, reason)

    def test_whatever_was_ticked(self, ticket: Ticket, open_fork: Run, mechanic: User) -> None:
        """Rows as an older version of the app would have left them: every other step done, every proof proved."""
        given = now(open_fork).outcomes
        for step in Step.objects.filter(checklist=open_fork.checklist):
            if step.key not in given and step.key not in ("lowers-on", "foot-fasteners-on", "oil-in-legs"):
                Tick.objects.create(run=open_fork, step=step, outcome=PLAIN[step.kind], ticked_at=timezone.now())
        with pytest.raises(LeftOpen, match=r"The lowers are off.*The foot fasteners are off"):
            finish(ticket, mechanic, "So be it")

    def test_a_ride_cannot_be_ticked_on_it(self, open_fork: Run) -> None:
        fresh = Run.objects.get(pk=open_fork.pk)
        with pytest.raises(ValueError, match="has to wait"):
            answer(fresh, "test-ride", "proved")
        with pytest.raises(UnitNotSo, match="the lowers are off"):
            answer(fresh, "fill-in-stages", "done")
        with pytest.raises(UnitNotSo, match="the lowers are off"):
            answer(fresh, "prove-dry", "proved")

    def test_the_ticket_page_names_it_and_offers_no_way_round(
        self, bench: Client, ticket: Ticket, open_fork: Run
    ) -> None:
        page = bench.get(url("ticket", ticket)).text
        assert "Not closed, or nobody knows:" in page
        assert url("step", ticket, open_fork.pk, "lowers-on") in page
        assert "Ready, without that proof" not in page

    def test_closed_again_the_leaking_seal_is_still_asked_about(
        self, ticket: Ticket, open_fork: Run, mechanic: User
    ) -> None:
        followed(open_fork)
        with pytest.raises(ProofMissing, match="The damper loses oil"):
            finish(ticket, mechanic)
        finish(ticket, mechanic, "Goes on to the specialist")
        assert ticket.state == "ready"

    def test_nor_by_the_plain_move(self, ticket: Ticket, open_fork: Run, shop: Shop) -> None:
        owner = UserFactory(shop=shop, owner=True)
        with pytest.raises(LeftOpen):
            move(ticket=ticket, to_state="ready", by=owner, seen_version=1, reason="I say so", without_proof=True)


def test_a_proof_older_than_the_last_opening_is_asked_again(bench: Client, ticket: Ticket, mechanic: User) -> None:
    run = begun(ticket, "sits-low")
    followed(run)
    assert now(run).missing_proof == ()
    answer(run, "all-air-out", "done")
    state = now(run)
    assert {"prove-pressure", "prove-rest", "prove-sag", "test-ride"} <= {one.key for one in state.missing_proof}
    assert state.by_key["prove-clicks"].tick is not None
    assert Run.objects.get(pk=run.pk).ended_at is None
    assert "so it is asked again" in bench.get(url("step", ticket, run.pk, "prove-pressure")).text
    assert state.next is not None
    with pytest.raises(LeftOpen, match="positive air chamber is empty"):
        finish(ticket, mechanic, "No time")
    assert followed(run)[0] == "fill-in-stages"
    finish(ticket, mechanic)


def test_what_one_run_of_a_job_does_is_so_in_the_other(ticket: Ticket, run: Run, mechanic: User) -> None:
    """Filled in the list for oil, the fork is not empty in the one for a low fork."""
    followed(run, until="foot-fasteners-off")
    checklist = shipped_checklist("loses-air")
    ticket.complaints.add(checklist.complaint)
    other = start_checklist(ticket=ticket, checklist=checklist, by=mechanic)
    assert now(run).unit.may_be_under_pressure == []
    answer(other, "prove-the-loss", "ruled_out")
    states = {state.run.pk: state for state in states_of(Run.objects.filter(pk__in=[run.pk, other.pk]))}
    assert states[run.pk].unit.may_be_under_pressure
    assert states[run.pk].next is not None
    with pytest.raises(UnitNotSo, match="there is air in the positive air chamber"):
        answer(run, "foot-fasteners-off", "done")


def test_that_nobody_can_tell_pumps_no_air_in_behind_lowers_that_are_off(ticket: Ticket) -> None:
    """“Can't tell” where a leak may be slow says that there is air in the fork, so it is refused as “no leak” is."""
    run = begun(ticket, "loses-air")
    followed(run, until="clean-lowers", prove_the_loss="ruled_out")
    assert now(run).unit.conditions["lowers"] == "removed"
    for outcome in ("ruled_out", "cant_tell"):
        with pytest.raises(UnitNotSo, match="the lowers are off"):
            answer(run, "prove-the-loss", outcome)


def test_feet_are_not_tight_while_their_oil_is_out(ticket: Ticket) -> None:
    run = begun(ticket, "knocks-or-play")
    followed(run, until="lowers-off")
    assert now(run).unit.conditions["foot_fasteners"] == "removed"
    with pytest.raises(UnitNotSo, match="the oil is out of the legs"):
        answer(run, "check-foot-fasteners", "ruled_out")


def undeclared(key: str) -> Checklist:
    """The shipped list as it was stored before steps said anything of the unit's state."""
    checklist = shipped_checklist(key)
    for step in checklist.steps.all():
        answers = {given: {**one, "leaves": {}} for given, one in step.answers.items()}
        Step.objects.filter(pk=step.pk).update(requires={}, opens=[], proves=[], answers=answers)
    Checklist.objects.filter(pk=checklist.pk).update(made_at=timezone.now())
    return Checklist.objects.get(pk=checklist.pk)


def test_a_list_from_before_still_works_and_the_bench_asks(ticket: Ticket, mechanic: User) -> None:
    run = start_run(checklist=undeclared("routine-lowers-service"), facts=ticket.unit.facts(), by=None)
    TicketRunFactory(ticket=ticket, run=run)
    ticket.complaints.set([run.checklist.complaint])
    walked = followed(run)
    assert walked[-1] == "test-ride"
    bolts_recorded(ticket, mechanic)
    (asked,) = missing_proof_of(ticket)
    assert "does not say what its steps open" in asked.words
    with pytest.raises(ProofMissing):
        finish(ticket, mechanic)
    finish(ticket, mechanic, "All closed, looked twice")


def test_the_suggested_order_brings_about_the_state_as_well(bench: Client, ticket: Ticket) -> None:
    run = begun(ticket, "loses-air")
    followed(run, until="wheel-out", soap_top_cap="found", prove_pressure="not_proved")
    Run.objects.filter(pk=run.pk).update(in_suggested_order=True)
    for _ in range(60):
        page: Any = bench.get(url("run", ticket, run.pk), follow=True)
        key = page.redirect_chain[-1][0].rstrip("/").split("/")[-1]
        if key == "foot-fasteners-off":
            break
        if key not in now(run).by_key:
            break
        answer(run, key, PLAIN[now(run).by_key[key].step.kind])  # never refused
    assert now(run).unit.may_be_under_pressure == []
