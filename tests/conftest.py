"""The environment of the tests: the shop's own settings, a data folder of the run, plain HTTP, quick passwords.

The environment is set here, before pytest-django reads the settings, so that one settings file serves all.
`DATABASE_URL` is honoured: without it the tests use SQLite in a file, which locks as the shop's own database does.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import gc
import os
import shutil
import sqlite3
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import hypothesis
import pytest
from pytest_django.plugin import DjangoDbBlocker

from tests.another_database import leave_out_what_was_tested
from tests.failing_at_once import FailingAtOnce
from tests.faults.table import Tell, print_table, teller
from tests.in_turn import Costs, leave_out_until_its_turn, said_of_turns
from tests.time_limit import pytest_runtest_call, pytest_runtest_setup, pytest_runtest_teardown  # noqa: F401  hooks

if TYPE_CHECKING:
    from tests.bucket_server import OwnBucket

_IS_WORKER = "PYTEST_XDIST_WORKER" in os.environ  # a worker inherits the environment of the run that started it

if not _IS_WORKER:
    os.environ.update(
        DATA_DIR=tempfile.mkdtemp(prefix="workshop-tests-"),
        HTTPS="0",
        SECRET_KEY="a key that only the tests know, and long enough for the checks",  # noqa: S106  opens nothing
        DJANGO_SETTINGS_MODULE="workshop.settings",
    )
    os.environ.setdefault("DAY_OF_TESTS", str(dt.datetime.now(tz=dt.UTC).toordinal()))  # the same in every worker
    for name in ("DEBUG", "ALLOWED_HOSTS", "TRUSTED_ORIGINS", "BEHIND_PROXY", "FILES_URL"):
        os.environ.pop(name, None)

# Modules and tests stay to the end of a run: looking through them for rubbish again and again took a tenth of its time.
gc.set_threshold(20_000, 20, 20)

hypothesis.settings.register_profile("quick", deadline=None)
hypothesis.settings.register_profile("ci", deadline=None, derandomize=True, print_blob=True)
hypothesis.settings.register_profile("thorough", deadline=None, max_examples=2000)
hypothesis.settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "ci" if os.environ.get("CI") else "quick"))


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--ratios",
        type=Path,
        metavar="FILE",
        help="write the ratios of the benchmarks to FILE: Markdown if it ends in .md, else JSON",
    )
    parser.addoption("--in-turn", action="store_true", help="dear tests only where it is their turn (tests/in_turn.py)")
    parser.addoption("--costs", type=Path, metavar="FILE", help="write what dear tests cost to FILE")
    parser.addoption("--full", action="store_true", help="benchmarks of growth and load at their full size")


def pytest_configure(config: pytest.Config) -> None:
    from django.conf import settings

    if not _IS_WORKER:
        config.pluginmanager.register(FailingAtOnce(config))
        if costs := config.getoption("--costs"):
            config.pluginmanager.register(Costs(costs))

    if settings.HTTPS:
        raise pytest.UsageError(
            "Unset DJANGO_SETTINGS_MODULE: the tests set the environment of the settings themselves."
        )
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    settings.STORAGES["staticfiles"] = {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}
    settings.EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
    # A test signs in once and may take long on a busy machine; what is tested of these says its own.
    settings.CONFIRMED_FOR_MINUTES = settings.IDLE_MINUTES = settings.IDLE_MINUTES_SHARED = 24 * 60
    settings.STATIC_ROOT.mkdir(parents=True, exist_ok=True)  # WhiteNoise looks for it
    database = settings.DATABASES["default"]
    if database["ENGINE"] == "django.db.backends.sqlite3":
        database.setdefault("TEST", {})["NAME"] = str(settings.DATA_DIR / "tests.sqlite3")
        # No test takes the power away: a commit need not wait for the disk. What kills a server runs the shop's own.
        options = database["OPTIONS"]
        options["init_command"] = options["init_command"].replace("synchronous=FULL", "synchronous=OFF")


def pytest_report_header(config: pytest.Config) -> list[str]:
    from django.conf import settings

    database = f"database: {settings.DATABASES['default']['ENGINE'].rpartition('.')[2]}"
    return [database, *([said_of_turns()] if config.getoption("--in-turn") else [])]


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    print_table(terminalreporter)


@pytest.fixture
def told(request: pytest.FixtureRequest) -> Tell:
    """For a row of the table of faults."""
    return teller(request)


def pytest_unconfigure() -> None:
    if not _IS_WORKER:
        shutil.rmtree(os.environ["DATA_DIR"], ignore_errors=True)


# What these leave open (a file, a socket, a connection) is not looked for yet; everywhere else it fails a test.
# The list may only get shorter.
_MAY_LEAVE_OPEN = (
    "benchmarks",
    "browser",
    "faults/test_restarted",
    *(f"running/test_{name}" for name in ("every_direction", "lost_database", "restore")),
    *(f"workshop/test_{name}" for name in ("crowded", "far_too_large", "hostile", "who_may_enter")),
)


def pytest_collection_finish() -> None:
    gc.collect()
    gc.freeze()  # what is there now is not looked through any more


@pytest.hookimpl(trylast=True)  # after what a mark leaves out, which has no turn
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    leave_out_what_was_tested(config, items)
    leave_out_until_its_turn(config, items)
    here = Path(__file__).parent
    for item in items:
        if item.path.relative_to(here).as_posix().startswith(_MAY_LEAVE_OPEN):
            item.add_marker(pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning"))
            item.add_marker(pytest.mark.usefixtures("_clears_away_what_is_left_open"))


@pytest.fixture
def _clears_away_what_is_left_open() -> Iterator[None]:
    """In the test that left it, not in whichever comes next and may leave nothing."""
    yield
    gc.collect()


@pytest.fixture(scope="session", autouse=True)
def _no_permissions_of_models() -> None:
    """Emptying the tables after a test made all rows of Django's permissions anew, which the shop never reads."""
    from django.contrib.contenttypes.management import create_contenttypes
    from django.db.models.signals import post_migrate

    post_migrate.disconnect(dispatch_uid="django.contrib.auth.management.create_permissions")
    post_migrate.disconnect(create_contenttypes)


@pytest.fixture(scope="session", autouse=True)
def _shipped_checklists_are_read_once() -> Iterator[None]:
    from diagnosis import loading
    from tests.shipped import folder_read_once

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(loading, "load_folder", folder_read_once)
        yield


@pytest.fixture(scope="session")
def _kept_migrated(request: pytest.FixtureRequest) -> Path | None:
    """Where a migrated database is kept between runs; None where every migration is to be gone through."""
    from django.db import connection

    from tests.migrated_once import kept_in

    cache = getattr(request.config, "cache", None)
    if os.environ.get("CI") or cache is None or connection.vendor != "sqlite":
        return None
    try:
        return kept_in(cache.mkdir("migrated"))
    except OSError:  # a folder that nobody may write to: as in CI
        return None


@pytest.fixture(scope="session")
def django_db_keepdb(_kept_migrated: Path | None, django_db_modify_db_settings: None) -> bool:
    """Whether the database is there, migrated, before pytest-django makes it."""
    from django.conf import settings

    from tests.migrated_once import put_in_place

    return _kept_migrated is not None and put_in_place(
        _kept_migrated, Path(settings.DATABASES["default"]["TEST"]["NAME"])
    )


@pytest.fixture(scope="session")
def django_db_setup(
    django_db_keepdb: bool,
    django_db_setup: None,
    django_db_blocker: DjangoDbBlocker,
    _kept_migrated: Path | None,
    _place_of_copy: Path,
) -> Iterator[None]:
    """The database as pytest-django makes it; emptied after a test that commits as tests/emptying.py says."""
    from django.db import connection, connections

    from tests.emptying import delete_rather_than_truncate, leave_the_log_open
    from tests.last_to_leave import end_other_sessions
    from tests.migrated_once import copy_without_triggers, is_migrated, keep

    if connection.vendor == "postgresql":
        with django_db_blocker.unblock():
            delete_rather_than_truncate(connection)
    else:
        leave_the_log_open(connection)
    database = Path(connection.settings_dict["NAME"])
    if connection.vendor == "sqlite" and is_migrated(database):
        copy_without_triggers(database, _place_of_copy)
        if _kept_migrated is not None and not django_db_keepdb:
            with contextlib.suppress(OSError, sqlite3.Error):  # the next run goes through the migrations again
                keep(database, _kept_migrated)
    yield
    connections.close_all()  # pytest-django closes it where it takes the database away
    if connection.vendor == "postgresql":
        with django_db_blocker.unblock():
            ended = end_other_sessions(connection)
            connections.close_all()
        for what in ended:
            print(f"Still connected when the tests were over, and ended: {what}", file=sys.__stderr__)


@pytest.fixture
def step_by_step(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every migration there ever was, instead of those that make today's tables at once: to go back to one of them."""
    from django.db.migrations.loader import MigrationLoader

    load_disk = MigrationLoader.load_disk

    def without_squashed(self: MigrationLoader) -> None:
        load_disk(self)
        for key in [key for key, migration in self.disk_migrations.items() if migration.replaces]:
            del self.disk_migrations[key]

    monkeypatch.setattr(MigrationLoader, "load_disk", without_squashed)


@pytest.fixture(scope="session")
def _place_of_copy(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("migrated") / "shop.sqlite3"


@pytest.fixture(scope="session")
def migrated_copy(_place_of_copy: Path, django_db_setup: None) -> Path | None:
    """A SQLite file with today's tables, for a server that is to start quickly; None where this run made no such.

    Copied before the first test, so that it has what migrations write and nothing of a test.
    """
    return _place_of_copy if _place_of_copy.exists() else None


@pytest.fixture(scope="session")
def s3_server() -> Iterator[str]:
    """The address of a server that speaks S3."""
    from tests.bucket_server import s3_server_running

    with s3_server_running() as address:
        yield address


@pytest.fixture
def bucket(s3_server: str, settings: Any, monkeypatch: pytest.MonkeyPatch) -> OwnBucket:
    """The shop keeps its files in a bucket of the test's own."""
    from tests.bucket_server import CREDENTIALS, OwnBucket

    for name, value in CREDENTIALS.items():
        monkeypatch.setenv(name, value)
    own = OwnBucket(s3_server, settings)
    own.use()
    return own


_RECORD_FIXTURES = {"db", "transactional_db", "live_server", "client"}


@pytest.fixture(autouse=True)
def _own_media_root(request: pytest.FixtureRequest) -> None:
    """Each test of records has a folder of its own for photos and documents, and nothing is kept from another."""
    if _RECORD_FIXTURES.intersection(request.fixturenames) or request.node.get_closest_marker("django_db"):
        request.getfixturevalue("settings").MEDIA_ROOT = request.getfixturevalue("tmp_path") / "files"
        _forget_what_was_kept()


@pytest.fixture(autouse=True)
def _close_files_sent(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """A server closes each file when it is sent or the reader has gone; the test client only one read to its end."""
    from django.core.signals import request_finished
    from django.db import close_old_connections
    from django.http import FileResponse
    from django.test.client import ClientHandler

    answer, sent = ClientHandler.__call__, []

    def answer_and_remember(handler: ClientHandler, environ: dict[str, Any]) -> Any:
        response = answer(handler, environ)
        if isinstance(response, FileResponse):
            sent.append(response)
        return response

    monkeypatch.setattr(ClientHandler, "__call__", answer_and_remember)
    yield
    request_finished.disconnect(close_old_connections)  # the test's own goes on, as while the client asks
    for response in sent:
        response.close()
    request_finished.connect(close_old_connections)


def _forget_what_was_kept() -> None:
    from django.conf import settings
    from django.core.cache import caches

    from workshop.running.lives_here import MARKER

    for kept in caches.all(initialized_only=True):
        kept.clear()
    (settings.DATA_DIR / MARKER).unlink(missing_ok=True)  # a shop that another test opened lives here no more


@pytest.fixture(scope="session", autouse=True)
def _skip_what_needs_pdfs() -> Iterator[None]:
    """Where PDFs cannot be laid out, a test that comes to it is skipped, and says what to type."""
    from workshop.documents import rendering
    from workshop.pdf_libraries import missing_packages
    from workshop.system_packages import to_type

    missing = missing_packages()
    if not missing:
        yield
        return

    def skip() -> None:
        pytest.skip(f"No PDFs. As root: {to_type(missing)}")

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(rendering, "_weasyprint", skip)
        yield
