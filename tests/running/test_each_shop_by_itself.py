"""What breaks in one shop keeps no reminder of the next one waiting, and is seen by who has to see it."""

from __future__ import annotations

import datetime as dt
import json
import logging
from pathlib import Path
from typing import Any

import pytest
from django.core import mail
from django.core.management import CommandError, call_command
from django.utils import timezone

from tests.factories import ShopFactory
from tests.workshop.reminders.due_units import due_unit, queued
from workshop.management.commands import send_reminders
from workshop.models import ScheduledRun, Shop
from workshop.reminders import sending
from workshop.running.logs import ErrorLog, last_errors
from workshop.running.preflight.findings import Exit
from workshop.running.standing import standing_of_system

pytestmark = pytest.mark.django_db(transaction=True)
DAY = dt.timedelta(days=1)


@pytest.fixture
def shops(settings: Any, tmp_path: Path) -> list[Shop]:
    """Three, each with a reminder that waits."""
    settings.DATA_DIR = tmp_path
    found = [ShopFactory(name=name, email=f"desk@{name.lower()}.example") for name in ("Alder", "Birch", "Cedar")]
    for shop in found:
        queued(due_unit(shop, email=f"rider@{shop.name.lower()}.example"))
    return found


@pytest.fixture
def errors(tmp_path: Path) -> Any:
    """The list of errors of this machine, as the settings make it."""
    place, root = tmp_path / "errors.jsonl", logging.getLogger()
    handler = ErrorLog(str(place))
    root.addHandler(handler)
    yield place
    root.removeHandler(handler)
    handler.close()


def breaks_for(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    send = sending.send_waiting

    def breaks(**arguments: Any) -> Any:
        if arguments["shop"] == shop:
            raise KeyError("the words of rider@birch.example")
        return send(**arguments)

    monkeypatch.setattr(send_reminders, "send_waiting", breaks)


def test_the_shops_after_it_are_sent_and_the_run_counts_as_failed(
    shops: list[Shop], errors: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    breaks_for(shops[1], monkeypatch)
    with pytest.raises(CommandError) as raised:
        call_command("send_reminders", "--quiet")
    assert raised.value.returncode == Exit.FAILED
    assert str(raised.value).startswith("Birch, sending: it broke off (KeyError). Where it broke stands")
    assert sorted(sent.to[0] for sent in mail.outbox) == ["rider@alder.example", "rider@cedar.example"]
    run = ScheduledRun.objects.get()
    assert not run.went_well
    assert run.outcome == "2 sent, 0 erased. Birch, sending: it broke off (KeyError)"


def test_it_is_told_to_the_owner_of_that_shop_and_to_nobody_elses(
    shops: list[Shop], errors: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    breaks_for(shops[1], monkeypatch)
    with pytest.raises(CommandError):
        call_command("send_reminders", "--quiet")
    since = timezone.now() - DAY
    told = [len(last_errors(errors, since=since, for_shop=shop.pk)) for shop in shops]
    assert told == [0, 1, 0]
    assert "rider@" not in json.dumps(errors.read_text())
    (runs,) = [fact for fact in standing_of_system(shops[0], timezone.now()).facts if fact.label == "Scheduled runs"]
    assert runs.value == "Failed"
    assert "Birch" not in f"{runs.note} {runs.todo}"


def test_once_it_is_mended_what_waited_goes(shops: list[Shop], errors: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.MonkeyPatch.context() as patch:
        breaks_for(shops[0], patch)
        with pytest.raises(CommandError):
            call_command("send_reminders", "--quiet", "--when-due")
    call_command("send_reminders", "--quiet", "--when-due")  # one that failed is due again
    assert len(mail.outbox) == 3


def test_what_earlier_erasures_left_holds_nobody_up(
    shops: list[Shop], errors: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def breaks() -> int:
        raise RuntimeError("no such file")

    monkeypatch.setattr(send_reminders, "finish_erasures", breaks)
    with pytest.raises(CommandError, match="What earlier erasures left: it broke off"):
        call_command("send_reminders", "--quiet")
    assert len(mail.outbox) == 3
