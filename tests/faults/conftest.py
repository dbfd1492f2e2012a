"""A PostgreSQL of a test's own, where this machine has one; a small shop with files."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.running.conftest import data_dir, shop  # noqa: F401  fixtures

if TYPE_CHECKING:
    from tests.faults.cluster import Cluster


@pytest.fixture
def programs() -> Path:
    from tests.faults.cluster import needed, postgresql_programs  # late: Django first

    return needed(postgresql_programs(), "No PostgreSQL server on this machine.")


@pytest.fixture
def cluster(programs: Path) -> Iterator[Cluster]:
    from tests.faults.cluster import own_cluster

    with own_cluster(programs) as own:
        yield own
