"""The server killed at random moments while people work: what was acknowledged is there, and nothing is half there.

Five rounds; `FAULT_ROUNDS=50 python3 manage.py test tests/faults` is the long form.
"""

from __future__ import annotations

import os
import random
import sqlite3
import time
from decimal import Decimal
from pathlib import Path

import pytest
from django.db.models import Count, Sum

from diagnosis.models import Tick
from tests.faults.served import STEPS, Acknowledged, Server, Staff, Work, database_of, make_shop
from workshop.models import Customer, StockItem, StockMovement, Ticket, TicketEvent
from workshop.stores.moving import with_levels

ROUNDS = int(os.environ.get("FAULT_ROUNDS", "5"))
LONGEST_WORK_S = 4.0
ON_SQLITE = "sqlite" in os.environ.get("DATABASE_URL", "sqlite")


@pytest.mark.skipif(not ON_SQLITE, reason="the database is a file beside the server")
@pytest.mark.django_db
def test_nothing_acknowledged_is_lost_and_nothing_is_half_there(tmp_path: Path) -> None:
    folder = tmp_path / "shop"
    staff = make_shop(folder)
    server, kept = Server(folder), Acknowledged()
    chance = random.Random()
    try:
        for killed in range(ROUNDS):
            server.start()
            before = len(kept.ticks), len(kept.bookings), len(kept.movements)
            with Work(server, staff, kept):
                _wait_for_work(kept, before)
                time.sleep(chance.uniform(0, LONGEST_WORK_S))
                server.kill()
            look_through(folder, staff, kept, f"after kill {killed + 1}")
        server.start()
        assert server.ask("GET", f"/bench/{staff.ticket}/run/{staff.run}/{STEPS[0]}/", staff.mechanic)[0] == 200
    finally:
        server.kill()
    look_through(folder, staff, kept, "after the last start")
    print(  # shown with -s, and where the test fails
        f"{ROUNDS} kills: {len(kept.ticks)} ticks, {len(kept.bookings)} bookings and {len(kept.movements)} movements "
        f"acknowledged and found; refused: {len(kept.refused)}"
    )


def _wait_for_work(kept: Acknowledged, before: tuple[int, int, int]) -> None:
    """Until each of the three has something acknowledged since the start."""
    give_up = time.monotonic() + 60
    while any(now <= then for now, then in zip(
        (len(kept.ticks), len(kept.bookings), len(kept.movements)), before, strict=True
    )):  # fmt: skip
        assert time.monotonic() < give_up, f"nothing is acknowledged: {kept.refused[-5:]}"
        time.sleep(0.01)


def look_through(folder: Path, staff: Staff, kept: Acknowledged, when: str) -> None:
    with sqlite3.connect(folder / "shop.sqlite3") as plain:
        assert plain.execute("PRAGMA integrity_check").fetchall() == [("ok",)], when
        assert plain.execute("PRAGMA foreign_key_check").fetchall() == [], when
    plain.close()
    with database_of(folder):
        stored = {str(pk) for pk in Tick.objects.values_list("client_id", flat=True)}
        assert kept.ticks <= stored <= kept.sent, when

        numbers = dict(Ticket.objects.exclude(number=staff.ticket).values_list("complaint_words", "number"))
        assert kept.bookings.items() <= numbers.items(), when
        assert set(numbers) <= kept.sent, when
        whole = Ticket.objects.filter(pk__in=Ticket.objects.filter(complaint_words__in=numbers)).annotate(
            moves_kept=Count("moves", distinct=True),
            settings_kept=Count("settings_records", distinct=True),
            marks_kept=Count("condition_notes", distinct=True),
        )
        parts = set(whole.values_list("moves_kept", "settings_kept", "marks_kept"))
        assert parts <= {(1, 1, 1)}, when
        booked = TicketEvent.objects.filter(text="Booked in").values("ticket").distinct().count()
        assert booked == len(numbers), when
        assert Customer.objects.filter(name__startswith="Rider ").count() == len(numbers), when

        notes = list(StockMovement.objects.values_list("note", flat=True))
        assert len(notes) == len(set(notes)), when
        assert kept.movements <= set(notes) <= kept.sent, when
        moved = StockMovement.objects.aggregate(total=Sum("quantity"))["total"] or Decimal(0)
        assert with_levels(StockItem.objects.filter(pk=staff.item)).get().level == moved, when
