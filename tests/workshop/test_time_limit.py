"""A test that hangs, in itself or before or after, fails within the limit, and the others run."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from django.conf import settings as shop_settings

HANGING = """
import time
import pytest

@pytest.fixture
def never_there():
    time.sleep(600)

@pytest.fixture
def never_gone():
    yield
    time.sleep(600)

def test_hangs():
    try:
        time.sleep(600)
    except Exception:
        print("not for a test to swallow")

def test_hangs_before(never_there): pass
def test_hangs_after(never_gone): pass
def test_passes(): pass
"""


def test_a_test_that_hangs_fails_and_the_others_run(tmp_path: Path) -> None:
    (tmp_path / "test_hanging.py").write_text(HANGING)
    plugins = ["-p", "tests.time_limit", "-p", "no:cacheprovider"]
    ran = subprocess.run(
        [sys.executable, "-m", "pytest", "-c", os.devnull, "--rootdir", str(tmp_path), *plugins, str(tmp_path)],
        cwd=shop_settings.BASE_DIR,
        # Without the plugins of others: what they load in a test's setting up may take longer than the limit.
        env=os.environ
        | {"TEST_WITHIN_S": "2", "PYTHONPATH": str(shop_settings.BASE_DIR), "PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1"},
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert ran.returncode == 1, ran.stdout + ran.stderr
    assert "1 failed, 2 passed, 2 errors" in ran.stdout, ran.stdout
    for what in ("The test", "Setting up", "Clearing away"):
        assert f"{what} took more than 2 s." in ran.stdout


def test_every_test_of_ours_has_the_limit() -> None:
    from tests import conftest, time_limit

    for hook in ("pytest_runtest_setup", "pytest_runtest_call", "pytest_runtest_teardown"):
        assert getattr(conftest, hook) is getattr(time_limit, hook)
    assert 60 <= time_limit.WITHIN_S <= 900
