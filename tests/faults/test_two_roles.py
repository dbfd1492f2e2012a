"""Machines that serve as a user who may not alter a table: .examples/two-roles.sql, followed."""

from __future__ import annotations

import re
from pathlib import Path

import psycopg
import pytest
from django.conf import settings

from tests.faults.cluster import Cluster
from tests.faults.looking import look_through, wait_for_work
from tests.faults.served import Acknowledged, Place, Work, free_port, make_shop, served
from tests.faults.table import Tell
from tests.faults.test_two_starts import run
from workshop.running.preflight.findings import Exit

pytestmark = pytest.mark.any_database  # its database is its own

EXAMPLE = settings.BASE_DIR / ".examples" / "two-roles.sql"


@pytest.fixture
def by_role(cluster: Cluster) -> dict[str, str]:
    """The address of an empty database by who comes there."""
    straight = cluster.make_database("shop")
    with psycopg.connect(straight, autocommit=True) as connection:
        connection.execute(EXAMPLE.read_bytes())
    roles = re.findall(r"CREATE ROLE (\w+) LOGIN", EXAMPLE.read_text())
    return {role: straight.replace("postgres@", f"{role}@") for role in roles}


@pytest.mark.django_db
def test_who_serves_may_not_alter_and_is_told_who_may(tmp_path: Path, by_role: dict[str, str], told: Tell) -> None:
    owner, machine = (Place(tmp_path / "shop", by_role[role]) for role in ("workshop_owner", "workshop"))
    staff, kept = make_shop(owner), Acknowledged()
    with served(machine) as server, Work(server, staff, kept):
        wait_for_work(kept)
        wait_for_work(kept)
    assert (kept.refused, kept.titles) == ([], set())
    look_through(owner, staff, kept, "served without the right to alter")
    with psycopg.connect(machine.database_url) as connection, pytest.raises(psycopg.errors.InsufficientPrivilege):
        connection.execute("ALTER TABLE workshop_ticket ADD COLUMN shelf text")
    in_order = sorted(path.stem for path in (settings.BASE_DIR / "workshop" / "migrations").glob("[0-9]*.py"))
    assert run(owner.folder, "migrate", "workshop", in_order[-2], DATABASE_URL=owner.database_url)[0] == 0
    code, said = run(owner.folder, "serve", "--http", "--port", str(free_port()), DATABASE_URL=machine.database_url)
    assert code == Exit.NOT_BEGUN, said
    assert "1 migration behind this version, and its user “workshop” may not alter tables." in said
    assert run(owner.folder, "migrate", DATABASE_URL=owner.database_url)[0] == 0
    with served(machine) as server:
        assert server.ask("GET", "/health")[0] == 200
    told("a start behind its database’s owner", acknowledged=sum(kept.counts()), words=said)
