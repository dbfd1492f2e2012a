"""What the server gives a tablet to go on without a network, and how it takes what waited there."""

from __future__ import annotations

import json
import re
import uuid
from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from diagnosis.models import Run, StepTimer, Tick
from tests.bench_runs import ARRIVED, HTMX, answered, form_of, url
from tests.factories import UserFactory
from workshop.models import Ticket

pytestmark = pytest.mark.django_db


def test_the_panels_hold_every_step_with_its_form(bench: Client, ticket: Ticket, run: Run) -> None:
    panels = bench.get(url("panels", ticket, run.pk)).json()
    assert panels["order"][:2] == ["record-arrival", "arrival-pressure"]
    assert set(panels["order"]) == set(panels["steps"])
    for key, step in panels["steps"].items():
        assert step["title"] in step["html"].replace("&#x27;", "’") or step["title"]
        assert url("answer", ticket, run.pk, key) in step["html"]
    assert panels["steps"]["arrival-pressure"]["needs"] == ["record-arrival"]
    assert 'id="work"' in panels["shell"]


def test_the_panels_take_the_same_number_of_queries_early_and_late(bench: Client, ticket: Ticket, run: Run) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as captured:
            bench.get(url("panels", ticket, run.pk))
        return len(captured)

    queries()
    answered(run, "record-arrival", "done", ARRIVED["record-arrival"])
    early = queries()
    answered(run, "arrival-pressure", "done", ARRIVED["arrival-pressure"])
    answered(run, "record-clicks", "done", ARRIVED["record-clicks"])
    assert queries() == early < 25


def test_the_panels_are_the_shops_own(client: Client, ticket: Ticket, run: Run) -> None:
    client.force_login(UserFactory(mechanic=True))
    assert client.get(url("panels", ticket, run.pk)).status_code == 404


def test_the_worker_names_the_files_of_the_bench_and_where_to_sign_out(client: Client) -> None:
    answer = client.get(reverse("bench:worker"))
    assert answer["Service-Worker-Allowed"] == "/"
    assert answer["Cache-Control"] == "no-cache"
    assert answer["Content-Type"].startswith("text/javascript")
    shop = json.loads(re.match(r"self\.SHOP = (.*);\n", answer.text).group(1))  # type: ignore[union-attr]
    names = {file.rpartition("/")[2] for file in shop["files"]}
    assert {"bench.js", "bench.css", "htmx.min.js", "atkinson-hyperlegible-next-400.woff2"} <= names
    assert shop["signOut"] == reverse("sign_out")


def test_answers_that_waited_go_in_by_the_version_seen_and_at_their_own_time(
    bench: Client, ticket: Ticket, run: Run
) -> None:
    Run.objects.update(started_at=timezone.now() - timedelta(hours=1))
    sent: list[str] = []
    for key, waited in zip(ARRIVED, (600, 300, 5), strict=True):
        form = form_of(run, "done", **{f"reading-{name}": text for name, text in ARRIVED[key].items()})
        form |= {"version": "1", "after": " ".join(sent), "waited": str(waited)}
        assert bench.post(url("answer", ticket, run.pk, key), form, **HTMX).status_code == 200
        sent.append(form["client_id"])
    ticks = list(Tick.objects.order_by("pk"))
    assert [str(tick.client_id) for tick in ticks] == sent
    assert ticks[1].ticked_at - ticks[0].ticked_at > timedelta(minutes=4)


def test_taking_back_waits_in_the_same_row(bench: Client, ticket: Ticket, run: Run) -> None:
    first = form_of(run, "done", **{"reading-rest_travel": "28"})
    bench.post(url("answer", ticket, run.pk, "record-arrival"), first, **HTMX)
    back = {"version": "1", "client_id": str(uuid.uuid4()), "after": first["client_id"]}
    for _ in range(2):
        saved = bench.post(url("take_back", ticket, run.pk, "record-arrival"), back, **HTMX).json()
        assert saved["version"] == 3
    assert list(Tick.objects.values_list("outcome", flat=True)) == ["done", "taken_back"]


def test_an_answer_of_another_in_the_row_is_a_conflict_that_names_its_step(
    bench: Client, ticket: Ticket, run: Run
) -> None:
    answered(run, "record-arrival", "done", ARRIVED["record-arrival"])
    mine = form_of(run, "done", **{"reading-rest_travel": "31"}) | {"version": "1", "after": str(uuid.uuid4())}
    answer = bench.post(url("answer", ticket, run.pk, "record-arrival"), mine, **HTMX)
    assert answer.status_code == 409
    assert re.search(r'data-conflict data-version="2" data-steps="record-arrival "', answer.text)


def test_a_timer_started_while_cut_off_counts_from_then(bench: Client, ticket: Ticket, run: Run) -> None:
    Run.objects.update(started_at=timezone.now() - timedelta(hours=1))
    form = {"client_id": str(uuid.uuid4()), "waited": "240"}
    for _ in range(2):
        bench.post(url("start_timer", ticket, run.pk, "prove-pressure"), form, **HTMX)
    timer = StepTimer.objects.get()
    assert timedelta(seconds=235) < timezone.now() - timer.started_at < timedelta(seconds=300)
    bench.post(url("stop_timer", ticket, run.pk, "prove-pressure"), {"timer": form["client_id"], "waited": "60"})
    timer.refresh_from_db()
    assert timer.stopped_at is not None
    assert timer.stopped_at - timer.started_at < timedelta(seconds=200)
