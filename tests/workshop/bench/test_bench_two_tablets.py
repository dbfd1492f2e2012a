"""Two tablets at one run: nothing is lost and nothing silently done."""

from __future__ import annotations

import re

import pytest
from django.test import Client

from diagnosis.models import Run, Tick
from tests.bench_runs import HTMX, answered, form_of, url
from workshop.models import Ticket

pytestmark = pytest.mark.django_db


def test_the_second_is_told_and_keeps_what_it_typed(bench: Client, ticket: Ticket, run: Run) -> None:
    mine = form_of(run, "done", **{"reading-rest_travel": "31", "note": "Measured twice"})
    answered(run, "record-arrival", "left_out")
    answer = bench.post(url("answer", ticket, run.pk, "record-arrival"), mine, **HTMX)
    assert answer.status_code == 409
    assert "Your answer is not saved yet" in answer.text
    assert "Left out" in answer.text
    assert 'value="31"' in answer.text
    assert "Measured twice" in answer.text
    assert "Keep what is there" in answer.text
    assert Tick.objects.count() == 1


def test_it_can_save_its_own_as_well(bench: Client, ticket: Ticket, run: Run) -> None:
    mine = form_of(run, "done", **{"reading-rest_travel": "31"})
    answered(run, "record-arrival", "left_out")
    conflict = bench.post(url("answer", ticket, run.pk, "record-arrival"), mine).text
    shown = {
        name: re.search(rf'name="{name}" value="([^"]+)"', conflict).group(1)  # type: ignore[union-attr]
        for name in ("version", "client_id")
    }
    assert shown["version"] == "2"
    bench.post(url("answer", ticket, run.pk, "record-arrival"), mine | shown)
    assert list(Tick.objects.values_list("outcome", flat=True)) == ["left_out", "done"]


def test_a_page_brought_back_with_its_old_id_loses_nothing(bench: Client, ticket: Ticket, run: Run) -> None:
    first = form_of(run, "left_out")
    bench.post(url("answer", ticket, run.pk, "record-arrival"), first)
    again = first | {"outcome": "done", "reading-rest_travel": "31"}
    assert bench.post(url("answer", ticket, run.pk, "record-arrival"), again).status_code == 409
    assert Tick.objects.count() == 1
