"""Safety work that was left out is named while it can still be done cheaply, not by ready alone."""

from __future__ import annotations

import pytest
from django.test import Client

from diagnosis.models import Run
from diagnosis.runs_state import state_of
from diagnosis.state_space import PLAIN
from tests.any_reading import any_reading
from tests.bench_runs import answered, arrived, url
from tests.known import known
from tests.squeezed import squeezed
from workshop.models import Ticket

pytestmark = pytest.mark.django_db

NAMED = "Left out, and ready asks for it:"
AIR_OUT = "Let all the air out and prove it"


def page_of(bench: Client, ticket: Ticket, run: Run, step: str) -> str:
    return squeezed(bench.get(url("step", ticket, run.pk, step)).text)


def named_on(page: str) -> str:
    """What stands after the words that name it; "" where nothing is named."""
    return page.partition(NAMED)[2].partition("</div>")[0]


def make_possible(run: Run, key: str) -> None:
    """Do what has to come first, one after the other."""
    for _ in range(40):
        first = known(state_of(Run.objects.get(pk=run.pk)).side.first_before(key)).step
        if first.key == key:
            return
        do(run, first.key)
    raise AssertionError(f"{key} never comes")


def do(run: Run, key: str) -> None:
    step = state_of(Run.objects.get(pk=run.pk)).by_key[key].step
    answered(run, key, PLAIN[step.kind], {plan["key"]: any_reading(plan) for plan in step.readings})


def test_what_was_left_out_is_named_on_other_steps_and_on_the_ticket_until_it_is_done(
    bench: Client, ticket: Ticket, run: Run
) -> None:
    arrived(run)
    assert NAMED not in page_of(bench, ticket, run, "clean-outside")
    answered(run, "all-air-out", "left_out")
    there = named_on(page_of(bench, ticket, run, "clean-outside"))
    assert url("step", ticket, run.pk, "all-air-out") in there
    assert "(can be done now)" in there
    assert AIR_OUT in named_on(squeezed(bench.get(url("ticket", ticket)).text))
    assert NAMED not in page_of(bench, ticket, run, "all-air-out"), "a step does not name itself"
    answered(run, "all-air-out", "done")
    assert NAMED not in page_of(bench, ticket, run, "clean-outside")
    assert NAMED not in squeezed(bench.get(url("ticket", ticket)).text)


def test_the_step_that_closes_over_it_says_so(bench: Client, ticket: Ticket, run: Run) -> None:
    for key in ("air-spring-out", "air-spring-in"):
        make_possible(run, key)
        do(run, key)
    make_possible(run, "prove-circlip-seat")
    answered(run, "prove-circlip-seat", "left_out")
    there = named_on(page_of(bench, ticket, run, "lowers-on"))
    assert "this step closes what it wants open" in there
    assert "(can be done now)" in named_on(page_of(bench, ticket, run, "inspect-stanchions"))
    answered(run, "prove-circlip-seat", "done")
    assert NAMED not in page_of(bench, ticket, run, "lowers-on")


def test_work_that_hurts_nobody_when_it_is_left_out_is_not_named(bench: Client, ticket: Ticket, run: Run) -> None:
    arrived(run)
    answered(run, "clean-outside", "left_out")
    assert NAMED not in page_of(bench, ticket, run, "wheel-out")
