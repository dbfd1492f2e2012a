"""The tests on PostgreSQL behind PgBouncer: `manage.py test --through-pgbouncer`, with DATABASE_URL at the PostgreSQL.

PgBouncer in transaction mode passes every database of that server on, so each worker has its own as ever. What has a
database of its own, or asks none, is left out: it would go past PgBouncer.
"""

from __future__ import annotations

import os
import subprocess
import sys

from tests.pgbouncer import ANY_DATABASE, pgbouncer_before, pgbouncer_program

# A database is taken away after its tests, and nothing of PgBouncer's may be left in it then.
_GOES_SOON = {"server_idle_timeout": "2", "default_pool_size": "24", "log_connections": "0", "log_disconnections": "0"}


def main(arguments: list[str]) -> int:
    program, address = pgbouncer_program(), os.environ.get("DATABASE_URL", "")
    if program is None or not address.startswith("postgres"):
        what = "DATABASE_URL names no PostgreSQL" if program else "PgBouncer is not installed (Debian: pgbouncer)"
        print(f"{what}: nothing was tested.", file=sys.stderr)
        return 4
    with pgbouncer_before(program, address, ANY_DATABASE, **_GOES_SOON) as through:
        ours = {"DATABASE_URL": through, "DATABASE_POOLED": "1", "TESTED_ON_ANOTHER_DATABASE": "1"}
        return subprocess.run(
            [sys.executable, "-m", "pytest", *arguments], env=os.environ | ours, check=False
        ).returncode


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
