"""A tablet that comes back after a week with hundreds of answers: each is kept once, in order, on its day."""

from __future__ import annotations

import datetime as dt
import itertools
import json
import uuid

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from diagnosis.models import Run, Tick
from tests.factories import RunFactory, StepFactory, TicketFactory, TicketRunFactory, UserFactory
from tests.faults.table import Tell

WEEK = dt.timedelta(days=7)
STEPS = ("look", "bleed", "pump")


@pytest.mark.django_db
@pytest.mark.parametrize("count", [30, pytest.param(300, marks=pytest.mark.long)])
def test_every_answer_of_a_week_is_kept_once_and_in_order(client: Client, count: int, told: Tell) -> None:
    mechanic = UserFactory(mechanic=True)
    ticket = TicketFactory(shop=mechanic.shop, state="on_the_bench", mechanic=mechanic)
    run = RunFactory()
    Run.objects.filter(pk=run.pk).update(started_at=timezone.now() - 2 * WEEK)
    for position, key in enumerate(STEPS):
        StepFactory(checklist=run.checklist, key=key, position=position, ends_search={})
    TicketRunFactory(ticket=ticket, run=run)
    client.force_login(mechanic)
    acts = itertools.islice(itertools.cycle(itertools.product(STEPS, ("answer", "take_back"))), count)
    sent: list[str] = []
    acknowledged = 0
    for number, (key, act) in enumerate(acts):
        client_id = str(uuid.uuid4())
        body = {
            "version": str(number + 1), "client_id": client_id, "outcome": "ruled_out", "note": "",
            "waited": str(int(WEEK.total_seconds()) - number), "after": " ".join(sent),
        }  # fmt: skip
        address = reverse(f"bench:{act}", args=[ticket.number, run.pk, key])
        for _ in range(2 if number % 5 == 0 else 1):  # of every fifth, the first acknowledgement was lost on its way
            answer = client.post(address, body, headers={"HX-Request": "true"})
            assert answer.status_code == 200, (number, answer.content[:500])
            assert json.loads(answer.content)["saved"]
        sent.append(client_id)
        acknowledged += 1
    ticks = list(Tick.objects.filter(run=run).order_by("pk"))
    assert [str(tick.client_id) for tick in ticks] == sent
    assert Run.objects.get(pk=run.pk).version == count + 1
    ages = [tick.received_at - tick.ticked_at for tick in ticks]
    assert all(WEEK - dt.timedelta(hours=1) < age < WEEK + dt.timedelta(hours=1) for age in ages)
    told("a tablet back after a week", injected=count, acknowledged=acknowledged, words=f"{len(ticks)} kept, in order")
