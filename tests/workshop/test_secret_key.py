"""The secret key is made once, and only its owner can read it."""

from __future__ import annotations

import threading
from pathlib import Path

from workshop.secret import load_or_make_secret_key


def test_a_key_is_made_on_the_first_start(tmp_path: Path) -> None:
    key = load_or_make_secret_key(tmp_path / "data" / "secret_key")
    assert len(key) >= 50  # what `check --deploy` asks for


def test_the_key_stays_the_same(tmp_path: Path) -> None:
    path = tmp_path / "secret_key"
    assert load_or_make_secret_key(path) == load_or_make_secret_key(path) == path.read_text()


def test_two_shops_have_different_keys(tmp_path: Path) -> None:
    assert load_or_make_secret_key(tmp_path / "here") != load_or_make_secret_key(tmp_path / "there")


def test_only_its_owner_can_read_it(tmp_path: Path) -> None:
    path = tmp_path / "data" / "secret_key"
    load_or_make_secret_key(path)
    assert path.stat().st_mode & 0o777 == 0o600
    assert path.parent.stat().st_mode & 0o777 == 0o700


def test_starts_at_the_same_time_agree_on_one_key(tmp_path: Path) -> None:
    path = tmp_path / "secret_key"
    start = threading.Barrier(8)
    keys: list[str] = []

    def process() -> None:
        start.wait()
        keys.append(load_or_make_secret_key(path))

    threads = [threading.Thread(target=process) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(keys) == 8
    assert len(set(keys)) == 1
    assert list(tmp_path.iterdir()) == [path]
