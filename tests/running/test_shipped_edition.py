"""A machine with an older release that starts again leaves the newer checklists in use."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import pytest

from diagnosis import loading
from diagnosis.edition import EDITION
from diagnosis.models import Checklist
from workshop.models import ShippedEdition
from workshop.running import shipped, upgrading
from workshop.running.shipped import load_what_ships

pytestmark = pytest.mark.django_db
KEY, OLD, NEW = "bottoms-out", 'summary: "', 'summary: "In the words of the newer release. '


@pytest.fixture
def newer(tmp_path: Path) -> Path:
    """The checklists of a release that changed one of them, and no table."""
    folder = tmp_path / "newer"
    shutil.copytree(loading.SHIPPED, folder)
    file = folder / f"{KEY}.yaml"
    text = file.read_text()
    assert text.count(OLD) == 1
    file.write_text(text.replace(OLD, NEW))
    return folder


def machine_starts(edition: int, folder: Path) -> Any:
    """What becomes of its checklists on a machine whose release has these."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(shipped, "load_shipped", lambda: loading.load_shipped(folder))
        return load_what_ships(edition)


def in_use() -> str:
    return Checklist.objects.get(key=KEY, is_current=True).summary


def test_the_newer_texts_stay_in_use_when_an_older_machine_starts_again(newer: Path) -> None:
    machine_starts(EDITION, loading.SHIPPED)
    before = in_use()
    loaded = machine_starts(EDITION + 1, newer)
    assert [entry.key for entry in loaded if entry.is_new] == [KEY]
    assert in_use() != before
    assert machine_starts(EDITION, loading.SHIPPED) is None
    assert in_use() != before
    assert ShippedEdition.objects.get().edition == EDITION + 1
    assert not any(entry.is_new for entry in machine_starts(EDITION + 1, newer))


def test_a_text_of_old_that_a_newer_release_brings_back_is_put_in_use(newer: Path) -> None:
    machine_starts(EDITION, loading.SHIPPED)
    before = in_use()
    machine_starts(EDITION + 1, newer)
    machine_starts(EDITION + 2, loading.SHIPPED)
    assert in_use() == before


def test_the_upgrade_goes_by_it() -> None:
    ShippedEdition.objects.create(edition=EDITION + 1, at="2026-11-30T00:00Z")
    (step,) = [step for step in upgrading.steps() if step.words == "Checklists"]
    step.do()
    assert not Checklist.objects.exists()
    ShippedEdition.objects.update(edition=EDITION)
    step.do()
    assert Checklist.objects.exists()
