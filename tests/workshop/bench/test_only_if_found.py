"""A repair that waits for a finding, and the way on from a loaded chamber, are marked so in the list of steps."""

from __future__ import annotations

import re

import pytest
from django.test import Client

from diagnosis.models import Run
from diagnosis.runs import start_run
from diagnosis.runs_state import state_of
from tests.bench_runs import answered, arrived, url
from tests.factories import TicketFactory, TicketRunFactory
from tests.shipped import shipped_checklist
from tests.squeezed import squeezed
from workshop.models import Shop, Ticket, User

pytestmark = pytest.mark.django_db


@pytest.fixture
def crash(shop: Shop, mechanic: User) -> tuple[Ticket, Run]:
    checklist = shipped_checklist("after-a-crash")
    ticket = TicketFactory(shop=shop, state="on_the_bench", mechanic=mechanic)
    ticket.complaints.add(checklist.complaint)
    run = start_run(checklist=checklist, facts=ticket.unit.facts(), by=mechanic)
    TicketRunFactory(ticket=ticket, run=run)
    return ticket, run


def note_of(page: str, key: str) -> str:
    """What stands below the title of a step in the list."""
    entry = re.search(rf'<a class="step[^>]*/{key}/"[^>]*>(.*?)</a>', squeezed(page))
    assert entry is not None
    return " ".join(re.findall(r'<span class="step__note">(.*?)</span>', entry[1]))


def test_it_is_marked_until_a_finding_asks_for_it(bench: Client, crash: tuple[Ticket, Run]) -> None:
    ticket, run = crash
    page = bench.get(url("run", ticket, run.pk), follow=True).content.decode()
    assert note_of(page, "damaged-part-replaced") == "Only if found"
    assert note_of(page, "clean-outside") == ""
    arrived(run)
    answered(run, "clean-outside", "done")
    answered(run, "crash-bars", "found")
    page = bench.get(url("run", ticket, run.pk), follow=True).content.decode()
    assert note_of(page, "damaged-part-replaced") == ""


def test_the_list_counts_as_the_whole_run_does(bench: Client, ticket: Ticket, run: Run) -> None:
    page = bench.get(url("run", ticket, run.pk), follow=True)
    assert note_of(page.content.decode(), "loaded-chamber") == "Only if air stays trapped"
    assert sum(phase.asked for phase in page.context["phases"]) == state_of(run).total
