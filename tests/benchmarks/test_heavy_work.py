"""Files made to do harm and a paper of 500 parts, against the server as shipped: pages and ticks go on meanwhile.

The limits asserted are wide, for a busy machine; the table says what was measured.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.benchmarks.databases import beside_the_tests
from tests.benchmarks.heavy_work import (
    GIVEN_UP_AFTER_S,
    MostMemory,
    at_once,
    attacks,
    late,
    make_heavy_shop,
    memory_of_all,
    pulse,
    serving_memory,
)
from tests.faults.served import Place, served

pytestmark = [pytest.mark.benchmark, pytest.mark.django_db(transaction=True)]
QUIET_S = 5
KEEPS_BYTES = 50e6
ANSWERED = {200, 302, 422, 429, 503}


def test_pages_and_ticks_go_on_under_attack(tmp_path: Path, ratios: Callable[[str, float], None]) -> None:
    """Each attack is answered whole, in words where it is refused, and a serving process ends near where it began."""
    with beside_the_tests("shop_under_attack") as database:
        place = Place(tmp_path / "shop", database.get("DATABASE_URL", ""))
        shop = make_heavy_shop(place)
        with served(place) as server:
            with pulse(server, shop.staff) as quiet:
                time.sleep(QUIET_S)
            assert quiet.wrong == []
            began, whole = serving_memory(server), memory_of_all(server)
            for name, calls in attacks(server, shop).items():
                with MostMemory(server) as most, pulse(server, shop.staff) as seen:
                    statuses = at_once(calls)
                print(f"\n  {name}: {statuses}, {most.most / 1e6:.0f} MB in all, {whole / 1e6:.0f} MB before")
                assert set(statuses) <= ANSWERED
                assert seen.wrong == []
                assert max(*seen.health, *seen.ticks) < GIVEN_UP_AFTER_S
                for kind, before, times in (
                    ("health page", quiet.health, seen.health),
                    ("tick", quiet.ticks, seen.ticks),
                ):
                    print(f"  {kind}: {1000 * late(times):.0f} ms late, {1000 * late(before):.0f} ms in quiet")
                    ratios(f"{kind} during {name}, 95th percentile / in quiet", late(times) / late(before))
                ratios(f"memory of all during {name} / before", most.most / whole)
            grown = max(size - began[pid] for pid, size in serving_memory(server).items())
            ratios("the serving process that grew most, grown by / 50 MB", grown / KEEPS_BYTES)
            assert grown < 2 * KEEPS_BYTES
