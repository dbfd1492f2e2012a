"""Whether everything that was acknowledged is in a shop's records, and nothing is half there."""

from __future__ import annotations

import hashlib
import sqlite3
import time
from decimal import Decimal
from typing import Any

from django.db.models import Count, Sum

from diagnosis.models import Run, Tick
from tests.faults.served import Acknowledged, Place, Staff
from tests.known import known
from workshop.models import Customer, Photo, StockItem, StockMovement, SuspensionUnit, Ticket, TicketEvent
from workshop.stock.moving import with_levels

WORK_WITHIN_S = 120


def wait_for_work(kept: Acknowledged) -> None:
    """Until each of them has something acknowledged from now on."""
    before, give_up = kept.counts(), time.monotonic() + WORK_WITHIN_S
    while any(now <= then for now, then in zip(kept.counts(), before, strict=True)):
        assert time.monotonic() < give_up, f"{kept} since {before}; refused: {kept.refused[-5:]}, {kept.titles}"
        time.sleep(0.01)


def look_through(place: Place, staff: Staff, kept: Acknowledged, when: str) -> None:
    if place.database_url:
        _wait_for_the_servers_connections(place)
    else:
        _look_into_the_file(place, when)
    with place.records():
        _look_at_ticks(staff, kept, when)
        _look_at_bookings(staff, kept, when)
        _look_at_movements(staff, kept, when)
        _look_at_photos(place, kept, when)


def _look_into_the_file(place: Place, when: str) -> None:
    with sqlite3.connect(place.folder / "shop.sqlite3") as plain:
        assert plain.execute("PRAGMA integrity_check").fetchall() == [("ok",)], when
        assert plain.execute("PRAGMA foreign_key_check").fetchall() == [], when
    plain.close()


def _wait_for_the_servers_connections(place: Place) -> None:
    """PostgreSQL may still be at the last statements of a server that is dead."""
    others = "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() AND pid <> pg_backend_pid()"
    give_up = time.monotonic() + 60
    with place.records() as wrapper, wrapper.cursor() as cursor:
        cursor.execute(others)
        while cursor.fetchone() != (0,):
            assert time.monotonic() < give_up, "connections of the killed server stay open"
            time.sleep(0.1)
            cursor.execute(others)


def _look_at_ticks(staff: Staff, kept: Acknowledged, when: str) -> None:
    stored = {str(pk) for pk in Tick.objects.values_list("client_id", flat=True)}
    assert kept.ticks <= stored <= kept.sent, when
    assert Run.objects.get(pk=staff.run).version == len(stored) + 1, when


def _look_at_bookings(staff: Staff, kept: Acknowledged, when: str) -> None:
    """A ticket is there with all that was on its form, once, or not at all."""
    booked = Ticket.objects.exclude(number=staff.ticket)
    numbers = dict(booked.values_list("complaint_words", "number"))
    assert kept.bookings.items() <= numbers.items(), when
    assert set(numbers) <= kept.sent, when
    assert booked.count() == len(numbers), when
    whole = Ticket.objects.filter(pk__in=booked).annotate(
        moves_kept=Count("moves", distinct=True),
        settings_kept=Count("settings_records", distinct=True),
        marks_kept=Count("condition_notes", distinct=True),
    )
    assert set(whole.values_list("moves_kept", "settings_kept", "marks_kept")) <= {(1, 1, 1)}, when
    logged = TicketEvent.objects.filter(kind="booked_in", ticket__in=booked).values("ticket")
    assert (logged.count(), logged.distinct().count()) == (len(numbers), len(numbers)), when
    assert Customer.objects.filter(name__startswith="Rider ").count() == len(numbers), when
    assert SuspensionUnit.objects.filter(described_as="Kestrigan Plume").count() == len(numbers), when


def _look_at_movements(staff: Staff, kept: Acknowledged, when: str) -> None:
    notes = list(StockMovement.objects.values_list("note", flat=True))
    assert len(notes) == len(set(notes)), when
    assert kept.movements <= set(notes) <= kept.sent, when
    moved = StockMovement.objects.aggregate(total=Sum("quantity"))["total"] or Decimal(0)
    item: Any = with_levels(StockItem.objects.filter(pk=staff.item)).get()
    assert item.level == moved, when


def _look_at_photos(place: Place, kept: Acknowledged, when: str) -> None:
    rows = list(Photo.objects.all())
    assert kept.photos <= {str(row.client_id) for row in rows} <= kept.sent, when
    for row in rows:
        assert hashlib.sha256(place.content(known(row.file.name))).hexdigest() == row.digest, when
        assert place.content(known(row.thumbnail.name)), when
