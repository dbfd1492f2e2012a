"""“It is otherwise”: somebody's word changes the state as a step would, proves nothing, and can be taken back."""

from __future__ import annotations

import uuid
from typing import Any

import pytest
from django.test import Client

from diagnosis.models import Run, ToldOtherwise
from diagnosis.runs import start_run
from diagnosis.runs_state import state_of, states_of
from diagnosis.told import conditions_to_tell
from diagnosis.unit_parts import CHAMBERS, PARTS
from tests.bench_runs import answered, arrived, form_of, url
from tests.factories import TicketRunFactory, UserFactory
from tests.shipped import shipped_checklist
from tests.squeezed import squeezed
from workshop.models import Ticket, User
from workshop.work.bench_proof import finish_bench_work
from workshop.work.event_words import logged_words
from workshop.work.moves import LeftOpen

pytestmark = pytest.mark.django_db


def _form(run: Run, condition: str, **more: str) -> dict[str, str]:
    fresh = Run.objects.get(pk=run.pk)
    sent = {"version": str(fresh.version), "said": str(fresh.said), "client_id": str(uuid.uuid4())}
    return sent | {"condition": condition, "note": ""} | more


def _say(bench: Client, ticket: Ticket, run: Run, condition: str, **more: str) -> Any:
    return bench.post(url("tell", ticket, run.pk), _form(run, condition, **more))


def _unit(run: Run) -> Any:
    return state_of(Run.objects.get(pk=run.pk)).unit


def _emptied(run: Run) -> None:
    arrived(run)
    for key in ("wheel-out", "caliper-off", "all-air-out"):
        answered(run, key, "done")


def test_pumped_up_to_look_it_is_charged_and_nothing_may_be_opened(bench: Client, ticket: Ticket, run: Run) -> None:
    _emptied(run)
    assert _unit(run).may_be_under_pressure == []
    told = _say(bench, ticket, run, "positive_air=charged", note="I pumped it up to look")
    assert told.status_code == 302
    assert _unit(run).may_be_under_pressure == list(CHAMBERS)
    refused = bench.post(url("answer", ticket, run.pk, "foot-fasteners-off"), form_of(run, "done"))
    assert refused.status_code == 422
    assert "First do “Let all the air out and prove it” again." in squeezed(refused.text)
    answered(run, "all-air-out", "done")
    assert bench.post(url("answer", ticket, run.pk, "foot-fasteners-off"), form_of(run, "done")).status_code == 302


def test_the_page_says_how_each_part_is_and_offers_what_can_be_said(bench: Client, ticket: Ticket, run: Run) -> None:
    _emptied(run)
    page = squeezed(bench.get(url("otherwise", ticket, run.pk)).text)
    assert "Now: The air chambers are empty." in page
    assert "Now: The wheel is out." in page
    assert 'value="positive_air=charged">There is air in the air chambers' in page
    assert 'value="lowers=unknown">Nobody knows any more' in page
    assert "retention=proved" not in page
    assert "This page needs the network." in page


def test_it_is_a_record_of_its_own_with_words_who_and_when(
    bench: Client, ticket: Ticket, run: Run, mechanic: User
) -> None:
    _emptied(run)
    _say(bench, ticket, run, "wheel=in", note="Put back in to move the bike")
    row = ToldOtherwise.objects.get()
    assert (row.part, row.value, row.by, row.note) == ("wheel", "in", mechanic, "Put back in to move the bike")
    line = ticket.events.get(kind="unit_told")
    assert line.by == mechanic
    assert logged_words(line, ticket.shop) == "Said at the bench: the wheel is in (“Put back in to move the bike”)"
    page = squeezed(bench.get(url("otherwise", ticket, run.pk)).text)
    assert "The wheel is in." in page
    assert "“Put back in to move the bike”" in page


def test_taken_back_nobody_knows_and_twice_is_harmless(bench: Client, ticket: Ticket, run: Run) -> None:
    _emptied(run)
    _say(bench, ticket, run, "wheel=in")
    row = ToldOtherwise.objects.get()
    for _ in range(2):
        back = bench.post(url("untell", ticket, run.pk, row.pk), {"client_id": str(uuid.uuid4())})
        assert back.status_code == 302
    assert _unit(run).conditions["wheel"] == "unknown"
    assert ToldOtherwise.objects.count() == 2
    assert ticket.events.filter(kind="unit_told_back").count() == 1
    page = squeezed(bench.get(url("otherwise", ticket, run.pk)).text)
    assert "Take back<span" not in page, "what was taken back cannot be taken back again"


def test_pressed_twice_it_is_kept_once_and_an_id_used_for_something_else_is_refused(
    bench: Client, ticket: Ticket, run: Run
) -> None:
    _emptied(run)
    sent = _form(run, "wheel=in")
    assert [bench.post(url("tell", ticket, run.pk), sent).status_code for _ in range(2)] == [302, 302]
    assert ToldOtherwise.objects.count() == 1
    assert ticket.events.filter(kind="unit_told").count() == 1
    assert bench.post(url("tell", ticket, run.pk), sent | {"condition": "lowers=removed"}).status_code == 422
    assert ToldOtherwise.objects.count() == 1


def test_of_two_pages_the_second_is_told_what_changed_and_keeps_its_words(
    bench: Client, ticket: Ticket, run: Run
) -> None:
    _emptied(run)
    first, second = _form(run, "wheel=in"), _form(run, "positive_air=charged", note="I pumped it up")
    bench.post(url("tell", ticket, run.pk), first)
    stale = bench.post(url("tell", ticket, run.pk), second)
    assert stale.status_code == 409
    page = squeezed(stale.text)
    assert "this changed meanwhile: The wheel is in, said at" in page
    assert 'value="I pumped it up"' in page
    assert ToldOtherwise.objects.count() == 1
    assert _say(bench, ticket, run, "positive_air=charged").status_code == 302


def test_a_tick_in_between_is_told_too(bench: Client, ticket: Ticket, run: Run) -> None:
    arrived(run)
    sent = _form(run, "wheel=out")
    answered(run, "wheel-out", "done")
    stale = bench.post(url("tell", ticket, run.pk), sent)
    assert stale.status_code == 409
    assert "Wheel out" in squeezed(stale.text)


def test_an_answer_given_on_an_older_page_is_told_and_taken_when_it_is_pressed_again(
    bench: Client, ticket: Ticket, run: Run
) -> None:
    _emptied(run)
    sent = form_of(run, "done", said="0")
    _say(bench, ticket, run, "foot_fasteners=loose")
    refused = bench.post(url("answer", ticket, run.pk, "foot-fasteners-off"), sent)
    assert refused.status_code == 422
    page = squeezed(refused.text)
    assert "Meanwhile it was said: A foot fastener is loose or leaks, said at" in page
    assert 'name="said" value="1"' in page
    again = sent | {"said": "1", "client_id": str(uuid.uuid4())}
    assert bench.post(url("answer", ticket, run.pk, "foot-fasteners-off"), again).status_code == 302


def test_what_it_does_not_rest_on_holds_no_answer_back(bench: Client, ticket: Ticket, run: Run) -> None:
    arrived(run)
    sent = form_of(run, "done", said="0")
    _say(bench, ticket, run, "rebound_knob=removed")
    assert bench.post(url("answer", ticket, run.pk, "wheel-out"), sent).status_code == 302


@pytest.mark.parametrize("part", PARTS)
def test_nobodys_word_proves_anything(part: str) -> None:
    proofs = {"proved", "tried", "empty", "level", "renewed", "filled"}
    values = conditions_to_tell(part)
    assert not proofs & set(values)
    one = PARTS[part]
    if one.bolts or one.torque or one.gas or one.finding:
        assert not any(one.is_closed(value) for value in values), "it asks for a record, a reading or a part"


@pytest.mark.parametrize("condition", ["retention=proved", "positive_air=empty", "axle=tight", "brakes=tried",
                                       "can=removed", "wheel", "", "wheel=", "nothing=in", "oil=filled"])  # fmt: skip
def test_what_cannot_be_said_is_refused(bench: Client, ticket: Ticket, run: Run, condition: str) -> None:
    _emptied(run)
    assert _say(bench, ticket, run, condition).status_code == 422
    assert not ToldOtherwise.objects.exists()


def test_what_is_said_to_be_closed_makes_older_proofs_of_it_void_and_none_new(
    bench: Client, ticket: Ticket, run: Run
) -> None:
    _emptied(run)
    _say(bench, ticket, run, "wheel=in")
    state = state_of(Run.objects.get(pk=run.pk))
    assert not state.unit.is_open("wheel")
    assert "prove-brakes" in [one.key for one in state.missing_proof]
    assert state.unit.is_open("axle"), "a bolt is tight when its torque is on record"


def test_ready_is_refused_while_something_is_said_to_be_open(
    bench: Client, ticket: Ticket, run: Run, mechanic: User
) -> None:
    _say(bench, ticket, run, "lowers=removed")
    ticket.refresh_from_db()
    with pytest.raises(LeftOpen, match="The lowers are off"):
        finish_bench_work(ticket=ticket, by=mechanic, seen_version=ticket.version, reason_without_proof="In a hurry")


def test_the_line_on_a_step_says_it_and_leads_there(bench: Client, ticket: Ticket, run: Run) -> None:
    _say(bench, ticket, run, "lowers=removed")
    page = squeezed(bench.get(url("step", ticket, run.pk, "record-arrival")).text)
    line = page.split('<ul class="unit-now__line">')[1].split("</ul>")[0]
    assert "Lowers removed, as was said" in line
    assert url("otherwise", ticket, run.pk) in line


def test_it_is_of_the_whole_job(bench: Client, ticket: Ticket, run: Run, mechanic: User) -> None:
    beside = start_run(checklist=shipped_checklist("oil-at-seals"), facts=ticket.unit.facts(), by=mechanic, beside=run)
    TicketRunFactory(ticket=ticket, run=beside)
    _say(bench, ticket, run, "lowers=removed")
    states = states_of(Run.objects.filter(job=run.job))
    assert [state.unit.conditions["lowers"] for state in states] == ["removed", "removed"]
    assert {state.run.said for state in states} == {1}


def test_who_only_looks_sees_it_and_can_say_nothing(client: Client, ticket: Ticket, run: Run) -> None:
    client.force_login(UserFactory(shop=ticket.shop))
    assert 'name="condition"' not in client.get(url("otherwise", ticket, run.pk)).text
    assert _say(client, ticket, run, "wheel=out").status_code == 403


def test_off_the_bench_nothing_is_kept(bench: Client, ticket: Ticket, run: Run) -> None:
    Ticket.objects.filter(pk=ticket.pk).update(state="ready")
    assert _say(bench, ticket, run, "wheel=out").status_code == 422
    assert not ToldOtherwise.objects.exists()
