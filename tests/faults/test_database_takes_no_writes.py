"""A PostgreSQL that answers and takes nothing: a standby, set to be read only, full, or with no connection to spare.

Each is said in words with status 503 while the shop is open, and before a start by what looks; nothing is half done.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import psycopg
import pytest

from tests.faults.cluster import Cluster, own_cluster
from tests.faults.looking import look_through, wait_for_work
from tests.faults.served import Acknowledged, Place, Server, Staff, Work, make_shop, served
from tests.faults.table import Tell
from tests.faults.test_two_roles import by_role  # noqa: F401  a fixture
from tests.faults.test_two_starts import run
from workshop.running.preflight.findings import Exit
from workshop.web.faults import AWAY, FULL, LOST, READ_ONLY

pytestmark = pytest.mark.any_database  # its database is its own

_END_SESSIONS = "SELECT pg_terminate_backend(pid, 5000) FROM pg_stat_activity WHERE usename = 'workshop'"
FULL_FROM_NOW_ON = """
    CREATE FUNCTION no_room() RETURNS trigger LANGUAGE plpgsql AS
        $$ BEGIN RAISE EXCEPTION 'could not extend file: No space left on device' USING ERRCODE = '53100'; END $$;
    CREATE TRIGGER no_room BEFORE INSERT ON workshop_ticketevent FOR EACH ROW EXECUTE FUNCTION no_room();
"""


class Told:
    """What people were told while it lasted."""

    def __init__(self, server: Server, staff: Staff) -> None:
        self.server, self.staff = server, staff

    def reading(self) -> int:
        """The status of a page that only reads."""
        return self.server.ask("GET", "/bench/", self.staff.mechanic)[0]

    def writing(self) -> tuple[int, str]:
        """Status and page for somebody who books in; each of the form's writes is taken back."""
        work = Work(self.server, self.staff, Acknowledged())
        send = next(work._desk())
        send()
        assert work.kept.bookings == {}
        (refused,) = work.kept.refused
        return int(refused.rpartition(" ")[2]), work.kept.titles.pop()


@contextmanager
def set_to(database: psycopg.Connection[object], statement: str, back: str) -> Iterator[None]:
    """So for whoever connects from now on, and everybody has to."""
    database.execute(statement.encode())
    database.execute(_END_SESSIONS)
    try:
        yield
    finally:
        database.execute(back.encode())
        database.execute(_END_SESSIONS)


@pytest.mark.django_db
def test_what_the_database_does_not_take_is_said_and_nothing_is_half_done(
    tmp_path: Path,
    cluster: Cluster,
    by_role: dict[str, str],  # noqa: F811
    told: Tell,
) -> None:
    owner, machine = (Place(tmp_path / "shop", by_role[role]) for role in ("workshop_owner", "workshop"))
    staff, kept = make_shop(owner), Acknowledged()
    straight = owner.database_url.replace("workshop_owner@", "postgres@")
    with served(machine) as server, psycopg.connect(straight, autocommit=True) as database:
        people = Told(server, staff)
        assert people.reading() == 200

        read_only = "ALTER ROLE workshop SET default_transaction_read_only ="
        with set_to(database, f"{read_only} on", f"{read_only} off"):
            _until_told(people, READ_ONLY[0])
            assert people.reading() == 200, "what is stored is read meanwhile"
            told("PostgreSQL set to be read only", words=READ_ONLY[0])
        _until(people.reading, 200)

        limit = "ALTER ROLE workshop CONNECTION LIMIT"
        with set_to(database, f"{limit} 0", f"{limit} -1"):
            _until_told(people, AWAY[0])
            assert people.reading() == 503
            assert server.ask("GET", "/live")[0] == 200
            assert server.ask("GET", "/ready")[0] == 503
            told("PostgreSQL at its limit of connections", words=AWAY[0])
        _until(people.reading, 200)

        database.execute(FULL_FROM_NOW_ON)
        assert people.writing() == (503, FULL[0])
        assert people.reading() == 200
        database.execute("DROP FUNCTION no_room() CASCADE")
        told("PostgreSQL’s disk full", words=FULL[0])

        with Work(server, staff, kept):
            wait_for_work(kept)
    look_through(owner, staff, kept, "after all of it")
    log = (owner.folder / "server.log").read_text()
    assert "Traceback" not in log


def _until(asked: Callable[[], object], wanted: object) -> None:
    """Connections that were ended are noticed one by one."""
    for _ in range(60):
        if asked() == wanted:
            return
    raise AssertionError(f"never {wanted}")


def _until_told(people: Told, title: str) -> None:
    """Nothing but words on the way there: who had a connection may be told first that it was lost."""
    for _ in range(60):
        status, said = people.writing()
        assert status == 503
        if said == title:
            return
        assert said in {AWAY[0], LOST[0]}
    raise AssertionError(f"never told: {title}")


@pytest.mark.django_db
def test_a_start_at_a_standby_says_so_and_changes_nothing(
    tmp_path: Path, programs: Path, cluster: Cluster, told: Tell
) -> None:
    place = Place(tmp_path / "shop", cluster.make_database("shop"))
    make_shop(place)
    with own_cluster(programs, follows=cluster) as standby:
        there = place.database_url.replace(f":{cluster.port}/", f":{standby.port}/")
        backup = tmp_path / "kept.zip"
        code, said = run(place.folder, "backup", "--to", str(backup), DATABASE_URL=there)
        assert code == 0, said  # a standby is as good to read from
        for command in (("serve", "--http", "--port", "0"), ("upgrade",), ("restore", str(backup), "--replace")):
            code, said = run(place.folder, *command, DATABASE_URL=there)
            assert code == Exit.NOT_BEGUN, said
            assert "is a standby, which is only read. Name the server that takes writes in DATABASE_URL" in said
            assert "Traceback" not in said
        code, words = run(place.folder, "restore", str(backup), "--replace", DATABASE_URL=f"{there}_that_is_not_there")
        assert code == Exit.NOT_BEGUN, words
        assert "does not exist" in words
        assert "Traceback" not in words
    told("a start at a standby", injected=4, words=said)
