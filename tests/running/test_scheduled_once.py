"""What a timer starts is done once, whatever the number of machines, and how it ended stands where people look."""

from __future__ import annotations

import datetime as dt
import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings as django_settings
from django.core import mail
from django.core.management import CommandError, call_command
from django.db import connection
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pytest_django.asserts import assertContains, assertNotContains

from tests.factories import ShopFactory, UserFactory
from tests.known import known
from tests.workshop.reminders.due_units import due_unit, queued
from tests.workshop.reminders.test_reminders_sending import database_url
from workshop.models import ScheduledRun, Ticket
from workshop.running import scheduled
from workshop.running.backup_record import BackupOutcome, keep_outcome
from workshop.running.logs import MACHINE
from workshop.running.one_at_a_time import alone_at
from workshop.running.preflight.findings import Exit
from workshop.running.scheduled import (
    BROKE_OFF,
    KEPT,
    RunNotNeeded,
    Scheduled,
    note_run,
    run_once,
    standing_of_runs,
    went_well_elsewhere,
)
from workshop.running.standing import standing_of_system

# A machine that waits for the word, runs its timer, and works for a while; `no-lock` is one without the lock.
MACHINE_AT_IT = """
import sys, time
from pathlib import Path
import django
django.setup()
from contextlib import nullcontext
from workshop.running import scheduled
name, folder, lock, works_s = sys.argv[1], Path(sys.argv[2]), sys.argv[3], float(sys.argv[4])
scheduled.MACHINE = name
if lock == "no-lock":
    scheduled.alone_at = lambda what: nullcontext(True)
(folder / f"{name} is there").touch()
while not (folder / "go").exists():
    time.sleep(0.01)
try:
    with scheduled.run_once(scheduled.Scheduled.BACKUP, when_due=True) as run:
        (folder / f"{name} did it").touch()
        print("takes up:", run.takes_up, flush=True)
        time.sleep(works_s)
        run.words = "done by " + name
except scheduled.RunNotNeeded as elsewhere:
    print(elsewhere)
"""


@pytest.fixture
def folder(tmp_path: Path, settings: Any) -> Path:
    settings.DATA_DIR = tmp_path / "data"
    settings.DATA_DIR.mkdir()
    return tmp_path


def machine(name: str, folder: Path, *, lock: str = "lock", works_s: float = 1.5) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", MACHINE_AT_IT, name, str(folder), lock, str(works_s)],
        env={**os.environ, "DATABASE_URL": database_url(), "DATA_DIR": str(folder / "data")},
        cwd=django_settings.BASE_DIR, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip


def at_the_same_moment(folder: Path, *, lock: str) -> list[str]:
    """What two machines say whose timers come at once; both end well."""
    machines = [machine(name, folder, lock=lock) for name in ("north", "south")]
    try:
        until(lambda: len(list(folder.glob("* is there"))) == 2)
        (folder / "go").touch()
        said = [one.communicate(timeout=60) for one in machines]
    finally:
        for one in machines:
            one.kill()
            one.communicate()
    assert [one.returncode for one in machines] == [0, 0], said
    return [out for out, _ in said]


def until(came: Any, within_s: float = 60) -> None:
    end = time.monotonic() + within_s
    while not came():
        assert time.monotonic() < end, "It never came."
        time.sleep(0.02)


@pytest.mark.django_db(transaction=True)
class TestSeveralMachines:
    def test_of_two_timers_at_the_same_moment_one_does_it_and_the_other_says_so(self, folder: Path) -> None:
        said = at_the_same_moment(folder, lock="lock")
        (did,) = folder.glob("* did it")
        winner = did.name.split()[0]
        (other,) = [words for words in said if "Nothing was done here" in words]
        assert "another process is at it" in other  # where, it knows as soon as the first one wrote that down
        run = ScheduledRun.objects.get()
        assert (run.machine, run.went_well, run.outcome) == (winner, True, f"done by {winner}")
        assert run.ended_at is not None

    def test_without_the_lock_both_would(self, folder: Path) -> None:
        """That the test above can fail: rows alone keep two machines of one moment apart no better."""
        at_the_same_moment(folder, lock="no-lock")
        assert len(list(folder.glob("* did it"))) == 2

    def test_a_run_whose_machine_died_is_taken_up(self, folder: Path) -> None:
        (folder / "go").touch()
        dying = machine("north", folder, works_s=60)
        try:
            until(lambda: list(folder.glob("* did it")))
            with pytest.raises(RunNotNeeded, match="on north since"), run_once(Scheduled.BACKUP, when_due=True):
                pass
        finally:
            dying.send_signal(signal.SIGKILL)
            dying.communicate()
        until(is_free)
        with run_once(Scheduled.BACKUP, when_due=True) as run:
            assert run.takes_up.startswith("The run on north from")
            assert "is taken up" in run.takes_up
        first, second = ScheduledRun.objects.order_by("pk")
        assert (first.machine, first.went_well, first.outcome) == ("north", False, BROKE_OFF)
        assert second.went_well

    def test_one_that_is_done_elsewhere_in_the_same_period_is_not_done_again(self, folder: Path) -> None:
        (folder / "go").touch()
        for name in ("north", "south"):
            one = machine(name, folder, works_s=0)
            said, _ = one.communicate(timeout=60)
            assert one.returncode == 0
        assert "done already, it went well on" in said
        assert [path.name for path in folder.glob("* did it")] == ["north did it"]


def is_free() -> bool:
    with alone_at(Scheduled.BACKUP) as alone:
        return alone


def ran(what: Scheduled, ago: dt.timedelta, *, on: str = "north", well: bool = True) -> ScheduledRun:
    at = timezone.now() - ago
    return ScheduledRun.objects.create(what=what, machine=on, began_at=at, ended_at=at, went_well=well)


NOON = dt.datetime(2026, 11, 30, 12, 30, tzinfo=dt.UTC)


@pytest.mark.parametrize(
    ("what", "began", "done"),
    [
        (Scheduled.REMINDERS, NOON - dt.timedelta(minutes=29), True),
        (Scheduled.REMINDERS, NOON - dt.timedelta(minutes=31), False),
        (Scheduled.REMINDERS, NOON + dt.timedelta(seconds=30), True),  # by a clock that is ahead a little
        (Scheduled.REMINDERS, NOON + dt.timedelta(minutes=20), False),  # or once was, by far
        (Scheduled.BACKUP, NOON - dt.timedelta(hours=12), True),
        (Scheduled.BACKUP, NOON - dt.timedelta(hours=13), False),
        (Scheduled.BACKUP, NOON - dt.timedelta(days=1), False),
    ],
)
@pytest.mark.django_db
def test_what_counts_as_the_same_period(what: Scheduled, began: dt.datetime, done: bool) -> None:
    ScheduledRun.objects.create(what=what, machine="north", began_at=began, ended_at=began, went_well=True)
    assert bool(scheduled._done(what, NOON)) is done


@pytest.mark.django_db
def test_across_the_end_of_a_period_a_moment_later_is_the_same() -> None:
    midnight = NOON.replace(hour=0, minute=1)
    for began, done in ((midnight - dt.timedelta(minutes=5), True), (midnight - dt.timedelta(hours=4), False)):
        ScheduledRun.objects.all().delete()
        ScheduledRun.objects.create(what="backup", machine="north", began_at=began, ended_at=began, went_well=True)
        assert bool(scheduled._done(Scheduled.BACKUP, midnight)) is done


@pytest.mark.django_db
class TestARun:
    def test_one_that_failed_is_due_again_and_says_why(self, folder: Path) -> None:
        with pytest.raises(CommandError), run_once(Scheduled.BACKUP, when_due=True):
            raise CommandError("The disk is full.")
        with pytest.raises(ValueError, match="Odile"), run_once(Scheduled.BACKUP, when_due=True):
            raise ValueError("Odile Novák")
        assert [run.outcome for run in ScheduledRun.objects.order_by("pk")] == [
            "The disk is full.",
            "It broke off: ValueError.",
        ]
        with run_once(Scheduled.BACKUP, when_due=True):
            pass

    def test_by_hand_it_runs_as_often_as_somebody_wants(self, folder: Path) -> None:
        for _ in range(2):
            with run_once(Scheduled.REMINDERS, when_due=False):
                pass
        with pytest.raises(RunNotNeeded, match="done already"), run_once(Scheduled.REMINDERS, when_due=True):
            pass
        assert ScheduledRun.objects.count() == 2

    def test_what_is_old_is_kept_no_longer(self, folder: Path) -> None:
        for _ in range(KEPT + 3):
            ran(Scheduled.BACKUP, dt.timedelta(days=9))
        ran(Scheduled.TRIAL, dt.timedelta(days=9))
        with run_once(Scheduled.BACKUP, when_due=False):
            pass
        assert ScheduledRun.objects.filter(what="backup").count() == KEPT
        assert ScheduledRun.objects.filter(what="trial").count() == 1

    def test_a_database_that_is_to_be_upgraded_keeps_nobody_from_a_backup(
        self, folder: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setattr(connection.introspection, "table_names", lambda *_, **__: [])
        with run_once(Scheduled.BACKUP, when_due=True) as run:
            assert run.takes_up == ""
        assert not ScheduledRun.objects.exists()

    def test_the_weekly_parts_of_a_backup_are_left_to_the_machine_that_did_them(self) -> None:
        now = timezone.now()
        week = dt.timedelta(days=7)
        ran(Scheduled.TRIAL, dt.timedelta(days=1), on=MACHINE)
        ran(Scheduled.TRIAL, dt.timedelta(days=1), well=False)
        assert went_well_elsewhere(Scheduled.TRIAL, within=week, now=now) is None
        ran(Scheduled.TRIAL, dt.timedelta(days=8))
        assert went_well_elsewhere(Scheduled.TRIAL, within=week, now=now) is None
        ran(Scheduled.TRIAL, dt.timedelta(days=2))
        assert known(went_well_elsewhere(Scheduled.TRIAL, within=week, now=now)).machine == "north"


@pytest.mark.django_db
class TestTheCommands:
    def test_reminders_of_a_timer_go_once_in_an_hour(self, folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
        shop = ShopFactory.create()
        queued(due_unit(shop))
        call_command("send_reminders", "--when-due")
        assert len(mail.outbox) == 1
        assert ScheduledRun.objects.get().outcome == "1 sent, 0 erased"
        queued(due_unit(shop))
        capsys.readouterr()
        call_command("send_reminders", "--when-due")
        assert "Reminders: done already, it went well on" in (said := capsys.readouterr().out)
        assert f"on {MACHINE}: 1 sent, 0 erased. Nothing was done here." in said
        assert len(mail.outbox) == 1
        call_command("send_reminders")
        assert len(mail.outbox) == 2

    def test_who_asks_for_a_backup_while_another_is_made_is_told_so(self, shop: Ticket, data_dir: Path) -> None:
        with held_elsewhere(Scheduled.BACKUP, data_dir):
            with pytest.raises(CommandError, match="another process is at it") as refused:
                call_command("backup")
            assert refused.value.returncode == Exit.IN_USE
            call_command("backup", "--when-due")
        assert not list(data_dir.parent.glob("**/*.zip"))
        call_command("backup", "--when-due")
        assert len(list(data_dir.parent.glob("**/*.zip"))) == 1
        run = ScheduledRun.objects.get(what="backup")
        assert run.went_well
        assert " rows and 3 files" in run.outcome


@contextmanager
def held_elsewhere(what: Scheduled, data: Path) -> Iterator[None]:
    """Another process holds the lock, until the block ends."""
    held = "import sys, django; django.setup()\nfrom workshop.running.one_at_a_time import alone_at\n"
    held += f"with alone_at('{what}') as alone:\n    print(alone, flush=True)\n    sys.stdin.read()\n"
    process = subprocess.Popen(
        [sys.executable, "-c", held], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
        env={**os.environ, "DATABASE_URL": database_url(), "DATA_DIR": str(data)}, cwd=django_settings.BASE_DIR,
    )  # fmt: skip
    try:
        assert known(process.stdout).readline() == "True\n"
        yield
    finally:
        process.communicate("", timeout=30)


@pytest.mark.django_db
class TestWhereItIsSeen:
    def test_the_owner_sees_that_it_failed_and_the_operator_why(
        self, client: Client, folder: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        owner = UserFactory(owner=True)
        client.force_login(owner)
        assertContains(client.get(reverse("office:system")), "None yet")
        with run_once(Scheduled.REMINDERS, when_due=True) as run:
            run.words = "3 sent"
        assertContains(client.get(reverse("office:system")), "As they should")
        with pytest.raises(CommandError), run_once(Scheduled.BACKUP, when_due=True):
            raise CommandError("Weir Lane is full.")
        page = client.get(reverse("office:system"))
        assertContains(page, "Backup failed or did not end.")
        assertNotContains(page, "Weir Lane")  # another shop's name may stand in it
        call_command("shops")
        said = capsys.readouterr().out
        assert f", on {MACHINE}: Weir Lane is full." in said
        assert f", on {MACHINE}: 3 sent" in said
        call_command("shops", "--json")
        told = {run["name"]: run for run in json.loads(capsys.readouterr().out)["runs"]}
        assert (told["Backup"]["went_well"], told["Backup"]["outcome"]) == (False, "Weir Lane is full.")
        assert told["Reminders"]["went_well"]
        with run_once(Scheduled.BACKUP, when_due=True):
            pass
        assertContains(client.get(reverse("office:system")), "As they should")

    def test_one_that_never_ended_and_that_nobody_took_up_is_told(self) -> None:
        now = timezone.now()
        ran(Scheduled.BACKUP, dt.timedelta(days=4))
        row = ScheduledRun.objects.create(what="backup", machine="north", began_at=now - dt.timedelta(hours=5))
        assert [run.went_wrong for run in standing_of_runs(now)] == [None]  # it may be at it
        ScheduledRun.objects.update(began_at=now - dt.timedelta(days=3))
        assert [run.went_wrong for run in standing_of_runs(now)] == [row]

    def test_a_test_restore_of_another_machine_counts(self, shop: Ticket, monkeypatch: pytest.MonkeyPatch) -> None:
        now = timezone.now()
        late = BackupOutcome(now - dt.timedelta(days=30), ok=True, words="All of it", backup="x.zip")
        keep_outcome("test", late)
        assert trial_of(shop).todo
        with monkeypatch.context() as there:
            there.setattr(scheduled, "MACHINE", "north")
            with note_run(Scheduled.TRIAL) as run:
                run.words = "10 rows compared"
        assert trial_of(shop).todo == ""
        assert trial_of(shop).note == "10 rows compared, on another machine"


def trial_of(shop: Ticket) -> Any:
    standing = standing_of_system(shop.shop, timezone.now())
    return next(fact for fact in standing.facts if fact.label == "Backup restored as a test")
