"""The folder becomes read-only while people work: each write is kept or refused in words, and reading goes on."""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from tests.faults.looking import look_through
from tests.faults.served import Acknowledged, Place, Work, make_shop, served
from tests.faults.table import Tell

pytestmark = pytest.mark.any_database  # its database is its own

WORDS = {
    "Nothing can be saved just now",
    "Photos and documents cannot be stored",
    "The database does not answer",
    "The disk does not take what is written",
    "The shop’s database is not there",
}


@contextmanager
def read_only(folder: Path) -> Iterator[None]:
    """Whatever is opened from now on: by a mount for root, whom modes do not stop; by modes for anybody else."""
    if os.geteuid():
        folders = [folder, *(path for path in folder.rglob("*") if path.is_dir())]
        for path in folders:
            path.chmod(0o500)
        try:
            yield
        finally:
            for path in folders:
                path.chmod(0o700)
        return
    steps = (["mount", "--bind", str(folder), str(folder)], ["mount", "-o", "remount,ro,bind", str(folder)])
    if not shutil.which("mount") or subprocess.run(steps[0], capture_output=True, check=False).returncode:
        pytest.skip("mounting takes a root that may")
    try:
        subprocess.run(steps[1], check=True, capture_output=True)
        yield
    finally:
        subprocess.run(["umount", "--lazy", str(folder)], check=True)


@pytest.mark.django_db
def test_a_folder_that_becomes_read_only_is_said_and_loses_nothing(tmp_path: Path, told: Tell) -> None:
    place = Place(tmp_path / "shop")
    staff, kept = make_shop(place), Acknowledged()
    with served(place) as server:
        work = Work(server, staff, kept)
        jobs = [work._tablet(), work._desk(), work._stores(), work._camera()]
        for job in jobs:
            next(job)()
        assert not kept.refused, (kept.refused, kept.titles)
        with read_only(place.folder):
            for job in (work._tablet(), work._desk(), work._stores(), work._camera()):
                next(job)()
            assert "photo 503" in kept.refused, kept.refused
            assert {refused.rpartition(" ")[2] for refused in kept.refused} == {"503"}, kept.refused
            assert kept.titles <= WORDS
            refused, words = len(kept.refused), " / ".join(sorted(kept.titles))
        kept.refused.clear()
        for job in (work._tablet(), work._desk(), work._stores(), work._camera()):
            next(job)()
        assert not kept.refused, (kept.refused, kept.titles)
    look_through(place, staff, kept, "after the folder was read-only")
    told("folder read-only while running", injected=refused, acknowledged=sum(kept.counts()), words=words)
