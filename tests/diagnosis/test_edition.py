"""The edition of the shipped checklists is raised with each change of their files, else two machines take turns."""

from __future__ import annotations

from pathlib import Path

from diagnosis.edition import DIGEST, EDITION, digest_of
from diagnosis.loading import SHIPPED


def test_the_edition_is_of_the_files_that_ship() -> None:
    of_now = digest_of(SHIPPED)
    assert of_now == DIGEST, f'Write into diagnosis/edition.py: EDITION = {EDITION + 1}, DIGEST = "{of_now}".'


def test_any_change_of_a_file_is_another_digest(tmp_path: Path) -> None:
    seen = {digest_of(tmp_path)}
    for name, text in (("one.yaml", "a"), ("one.yaml", "b"), ("two.yaml", "a"), ("two.yaml", "")):
        (tmp_path / name).write_text(text)
        seen.add(digest_of(tmp_path))
    assert len(seen) == 5
