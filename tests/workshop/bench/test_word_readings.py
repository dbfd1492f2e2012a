"""Readings that are yes or no, or one of a list, from the bench to the papers."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from diagnosis.models import Reading, Run, Step
from tests.bench_runs import form_of, url
from tests.squeezed import squeezed
from workshop.documents.issuing import draft
from workshop.models import Ticket
from workshop.privacy.export import gather_person

pytestmark = pytest.mark.django_db
KEY = "record-arrival"
KNOB = {
    "key": "knob_off", "label": "Rebound knob off", "quantity": "yes_no", "unit": "", "required": True,
    "low": "", "high": "", "help": "Before anything is opened.",
}  # fmt: skip
SIDE = {**KNOB, "key": "side", "label": "Which side", "quantity": "choice", "required": False,
        "choices": ["left", "right"]}  # fmt: skip


@pytest.fixture
def asked(run: Run) -> Run:
    """The run's first step reads two words and nothing else."""
    Step.objects.filter(checklist=run.checklist_id, key=KEY).update(readings=[KNOB, SIDE])
    return run


def words_of(run: Run) -> dict[str, tuple[str, float | None]]:
    return {one.key: (one.typed, one.magnitude_si) for one in Reading.objects.filter(run=run).order_by("pk")}


def send(bench: Client, ticket: Ticket, run: Run, **fields: str) -> Any:
    return bench.post(url("answer", ticket, run.pk, KEY), form_of(run, "done", **fields))


def test_each_word_is_a_box_to_tap(bench: Client, ticket: Ticket, asked: Run) -> None:
    page = squeezed(bench.get(url("step", ticket, asked.pk, KEY)).text)
    for value in ("yes", "no"):
        assert f'name="reading-knob_off" value="{value}" data-required' in page
    assert 'name="reading-side" value="" id="step-reading-side_0" ' in page
    assert "not read" in page
    assert "checked" in page.split('name="reading-side" value=""')[1].split(">")[0]
    assert "checked" not in page.split('name="reading-knob_off" value="yes"')[1].split(">")[0]


def test_what_is_tapped_is_stored_as_a_word_and_shown_again(bench: Client, ticket: Ticket, asked: Run) -> None:
    assert send(bench, ticket, asked, **{"reading-knob_off": "no", "reading-side": "left"}).status_code == 302
    assert words_of(asked) == {"knob_off": ("no", None), "side": ("left", None)}
    page = squeezed(bench.get(url("step", ticket, asked.pk, KEY)).text)
    assert "checked" in page.split('name="reading-knob_off" value="no"')[1].split(">")[0]
    # Corrected: the later word counts, the first stays on record; the same again is no new reading.
    assert send(bench, ticket, asked, **{"reading-knob_off": "yes", "reading-side": "left"}).status_code == 302
    assert Reading.objects.filter(run=asked).count() == 3
    assert words_of(asked)["knob_off"] == ("yes", None)


def test_answered_again_without_it_the_word_read_before_counts(bench: Client, ticket: Ticket, asked: Run) -> None:
    """Only what is new is sent by an older page; what was read before is held against nothing either."""
    send(bench, ticket, asked, **{"reading-knob_off": "no"})
    assert send(bench, ticket, asked, **{"reading-side": "right"}).status_code == 302
    assert words_of(asked) == {"knob_off": ("no", None), "side": ("right", None)}


def test_one_that_must_be_read_is_asked_for(bench: Client, ticket: Ticket, asked: Run) -> None:
    answer = send(bench, ticket, asked, **{"reading-side": "right"})
    assert answer.status_code == 422
    assert "Rebound knob off" in answer.text
    assert not words_of(asked)
    page = squeezed(answer.text)
    assert "checked" in page.split('name="reading-side" value="right"')[1].split(">")[0], "what was tapped is lost"


@pytest.mark.parametrize("typed", ["perhaps", "1", "true", "0 mm", "x" * 400])
def test_another_word_is_refused_beside_it(bench: Client, ticket: Ticket, asked: Run, typed: str) -> None:
    answer = send(bench, ticket, asked, **{"reading-knob_off": typed})
    assert answer.status_code == 422
    assert "Choose yes or no." in answer.text
    assert not words_of(asked)


def test_the_papers_say_it_in_words(bench: Client, ticket: Ticket, asked: Run) -> None:
    row = _printed(ticket)
    assert row[0] == {"label": "Rebound knob off", "value": "", "choices": ["yes", "no"]}
    send(bench, ticket, asked, **{"reading-knob_off": "no", "reading-side": "left"})
    fresh = Ticket.objects.get(pk=ticket.pk)
    assert _printed(fresh) == [
        {"label": "Rebound knob off", "value": "no", "choices": []},
        {"label": "Which side", "value": "left", "choices": []},
    ]


def test_it_is_exported_with_the_person(bench: Client, ticket: Ticket, asked: Run) -> None:
    send(bench, ticket, asked, **{"reading-knob_off": "no"})
    readings = gather_person(ticket.customer)["tickets"][0]["checklists"][0]["readings"]
    assert [(one["reading"], one["value"]) for one in readings] == [("knob_off", "no")]


def test_a_proof_with_words_is_judged_by_its_magnitudes_alone(bench: Client, ticket: Ticket, asked: Run) -> None:
    step = Step.objects.get(checklist=asked.checklist_id, key="prove-pressure")
    Step.objects.filter(pk=step.pk).update(readings=[*step.readings, KNOB])
    sent = form_of(asked, "proved", **{"reading-knob_off": "yes", "reading-pressure_set": "80 psi"})
    assert bench.post(url("judge", ticket, asked.pk, "prove-pressure"), sent).status_code == 200
    assert bench.get(url("step", ticket, asked.pk, "prove-pressure")).status_code == 200


def test_the_other_pages_of_the_ticket_bear_it(bench: Client, ticket: Ticket, asked: Run) -> None:
    send(bench, ticket, asked, **{"reading-knob_off": "no", "reading-side": "left"})
    for address in (url("ticket", ticket), reverse("counter:ticket", args=[ticket.number]), url("spring", ticket)):
        assert bench.get(address).status_code == 200


def _printed(ticket: Ticket) -> list[dict[str, Any]]:
    checklist = draft(ticket=ticket, kind="work_order", ticket_address="")["checklists"][0]
    title = Step.objects.filter(key=KEY).values_list("title", flat=True)[0]
    rows = next(step["readings"] for step in checklist["steps"] if step["title"] == title)
    return [{name: row[name] for name in ("label", "value", "choices")} for row in rows]
