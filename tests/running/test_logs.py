"""Log lines name the request and the place, and no person."""

from __future__ import annotations

import datetime as dt
import json
import logging
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from django.db import IntegrityError
from django.http import HttpRequest, HttpResponse
from django.test import Client, RequestFactory
from django.urls import reverse
from pytest_django.asserts import assertContains

from tests.factories import CustomerFactory, UserFactory
from workshop.running import logs
from workshop.running.logs import ErrorLog, JsonLines, PlainLines, last_errors, without_people
from workshop.web.request_id import RequestIdMiddleware, current_request_id

ROOT = Path(__file__).resolve().parents[2]
NOW = dt.datetime(2026, 11, 25, 12, 0, tzinfo=dt.UTC)


def record_of(message: str = "Odd", error: BaseException | None = None, **extra: object) -> logging.LogRecord:
    info = (type(error), error, error.__traceback__) if error else None
    record = logging.LogRecord("workshop.x", logging.ERROR, "x.py", 1, message, (), info)
    record.__dict__.update(extra)
    return record


def raised(error: BaseException) -> BaseException:
    try:
        raise error
    except BaseException as caught:
        return caught


def test_a_line_is_json() -> None:
    facts = json.loads(JsonLines().format(record_of("Sent 3 reminders", milliseconds=12)))
    assert (facts["level"], facts["logger"], facts["message"]) == ("ERROR", "workshop.x", "Sent 3 reminders")
    assert facts["milliseconds"] == 12
    assert dt.datetime.fromisoformat(facts["at"]).tzinfo is not None


@pytest.mark.parametrize(
    ("said", "logged"),
    [
        ("Mail to odile@example.org came back", "Mail to [mail] came back"),
        ("Called 0555 010 100 twice", "Called [number] twice"),
        ("Called +44 (1632) 960-001", "Called [number]"),
        ("GET /counter/search/?q=Novák&page=2 was slow", "GET /counter/search/?[query] was slow"),
        ("GET /c/h4nd-m4de_secret/report/", "GET /c/[link]"),
        ("Ticket 1047 took 12.5 s", "Ticket 1047 took 12.5 s"),
    ],
)
def test_what_looks_like_a_person_is_taken_out(said: str, logged: str) -> None:
    assert without_people(said) == logged
    assert logged in PlainLines().format(record_of(said))


def test_what_stands_on_a_document_stays_out() -> None:
    """WeasyPrint names the letters that its fonts lack, and they are a part of somebody's name."""
    said, letters = 'fonts lack "%s" (%s)', ("岡本", "U+5CA1")
    record = logging.LogRecord("weasyprint", logging.WARNING, "x.py", 1, said, letters, None)
    assert "岡" not in PlainLines().format(record)
    assert "fonts lack" in PlainLines().format(record)


def test_the_words_of_an_exception_stay_out_but_its_kind_and_place_do_not(monkeypatch: pytest.MonkeyPatch) -> None:
    error = raised(IntegrityError("Failing row contains (7, Odile Novák, 0555 010 100)"))
    line = JsonLines().format(record_of(error=error))
    assert "Novák" not in line
    assert json.loads(line)["exception"] == "IntegrityError"
    assert json.loads(line)["where"][0].startswith("test_logs.py:")
    monkeypatch.setattr(logs, "DETAIL", True)
    assert "Novák" in JsonLines().format(record_of(error=error))


@pytest.fixture
def lines(caplog: pytest.LogCaptureFixture) -> Callable[[], str]:
    caplog.set_level(logging.INFO)
    for name in ("django", "django.request", "axes"):
        logging.getLogger(name).propagate = True
    return lambda: "\n".join(map(JsonLines().format, caplog.records))


@pytest.mark.django_db
def test_a_page_that_breaks_names_the_request_and_nobody(
    client: Client, monkeypatch: pytest.MonkeyPatch, lines: Callable[[], str], caplog: pytest.LogCaptureFixture
) -> None:
    seen: list[str] = []

    def fails(*args: object, **kwargs: object) -> None:
        seen.append(current_request_id())
        raise RuntimeError("while showing Odile Novák")

    monkeypatch.setattr("workshop.counter.search_views.render", fails)
    user = UserFactory()
    CustomerFactory(shop=user.shop, name="Odile Novák")
    client.force_login(user)
    client.raise_request_exception = False
    response = client.get(reverse("counter:search"), {"q": "Novák"})
    assert len(seen) == 1
    assert response["X-Request-ID"] == seen[0]
    assertContains(response, seen[0], status_code=500)
    assert "Nov" not in lines()
    broken = next(json.loads(JsonLines().format(r)) for r in caplog.records if r.levelno == logging.ERROR)
    assert (broken["message"], broken["status"]) == ("Internal Server Error", 500)
    assert broken["exception"] == "RuntimeError"


@pytest.mark.django_db
def test_a_line_says_which_machine_and_which_shop(
    client: Client, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    written: list[str] = []
    handler = logging.Handler()
    handler.setFormatter(JsonLines())
    monkeypatch.setattr(handler, "emit", lambda record: written.append(handler.format(record)))
    requests = logging.getLogger("workshop.requests")
    monkeypatch.setattr(requests, "handlers", [handler])
    caplog.set_level(logging.INFO, logger=requests.name)
    user = UserFactory()
    client.get(reverse("sign_in"))
    client.force_login(user)
    client.get(reverse("counter:search"), {"q": "Novák"})
    answered = [json.loads(line) for line in written]
    assert [line.get("shop") for line in answered] == [None, user.shop_id]
    assert {line["machine"] for line in answered} == {logs.MACHINE}


@pytest.mark.django_db
def test_neither_a_customers_link_nor_a_failed_sign_in_is_logged(client: Client, lines: Callable[[], str]) -> None:
    client.get("/c/a-secret-nobody-was-given/")
    client.post(reverse("sign_in"), {"username": "odile.novak", "password": "not the right one"})
    assert "a-secret" not in lines()
    assert "odile" not in lines()
    assert "Not Found" in lines()


@pytest.mark.django_db
def test_the_proxys_name_for_a_request_counts_only_behind_a_proxy(client: Client, settings: object) -> None:
    theirs = {"X-Request-ID": "0123456789abcdef"}
    assert client.get("/health", headers=theirs)["X-Request-ID"] != theirs["X-Request-ID"]
    settings.BEHIND_PROXY = True  # type: ignore[attr-defined]
    assert client.get("/health", headers=theirs)["X-Request-ID"] == theirs["X-Request-ID"]
    assert client.get("/health", headers={"X-Request-ID": 'x" onload='})["X-Request-ID"] != 'x" onload='


def test_the_name_ends_with_the_request(rf: RequestFactory) -> None:
    def view(request: HttpRequest) -> HttpResponse:
        return HttpResponse(current_request_id())

    answer = RequestIdMiddleware(view)(rf.get("/"))
    assert answer.content.decode() == answer["X-Request-ID"]
    assert current_request_id() == ""


def test_errors_are_kept_for_the_owner(tmp_path: Path) -> None:
    log = ErrorLog(str(tmp_path / "errors.jsonl"))
    for number in range(3):
        log.handle(record_of(f"Fault {number}"))
    with log.path.open("a") as file:
        file.write('{"at": "cut o')
    found = last_errors(log.path, since=dt.datetime.now(dt.UTC) - dt.timedelta(hours=1))
    assert [facts["message"] for facts in found] == ["Fault 2", "Fault 1", "Fault 0"]
    assert last_errors(log.path, since=dt.datetime.now(dt.UTC) + dt.timedelta(hours=1)) == []
    assert log.path.stat().st_mode & 0o777 == 0o600


def test_errors_of_one_kind_are_one_line_with_their_count(tmp_path: Path) -> None:
    log = ErrorLog(str(tmp_path / "errors.jsonl"))
    for number in range(3):
        log.handle(record_of("Odd", raised(KeyError("x")), request=f"r{number}"))
    log.handle(record_of("Even"))
    log.handle(record_of("Odd", raised(KeyError("x"))))
    found = last_errors(log.path, since=dt.datetime.now(dt.UTC) - dt.timedelta(hours=1))
    assert [(facts["message"], facts["count"]) for facts in found] == [("Odd", 4), ("Even", 1)]
    assert found[0]["first"] <= found[1]["first"] <= found[0]["at"]
    assert found[0]["exception"] == "KeyError"


def test_what_came_a_thousand_times_pushes_nothing_else_out(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(logs, "_LARGEST_LOG", 4000)
    log = ErrorLog(str(tmp_path / "errors.jsonl"))
    log.handle(record_of("The disk is full"))
    for _ in range(1000):
        log.handle(record_of("Again"))
    found = last_errors(log.path, since=dt.datetime.now(dt.UTC) - dt.timedelta(hours=1))
    assert [(facts["message"], facts["count"]) for facts in found] == [("Again", 1000), ("The disk is full", 1)]
    assert sum(path.stat().st_size for path in tmp_path.iterdir()) < 4500


def test_processes_that_write_at_once_lose_no_error(tmp_path: Path) -> None:
    """Each looks at the size, writes, and now and then makes the file shorter."""
    write = (
        "import logging, sys\n"
        "from workshop.running import logs\n"
        "logs._LARGEST_LOG = 4000\n"
        "log = logs.ErrorLog(sys.argv[1])\n"
        "for number in range(300):\n"
        "    log.handle(logging.LogRecord('workshop.x', logging.ERROR, 'x.py', 1, sys.argv[2], (), None))\n"
    )
    path = tmp_path / "errors.jsonl"
    names = ("one", "two", "three")
    writers = [subprocess.Popen([sys.executable, "-c", write, str(path), name], cwd=ROOT) for name in names]
    assert [writer.wait(timeout=120) for writer in writers] == [0, 0, 0]
    found = last_errors(path, since=dt.datetime.now(dt.UTC) - dt.timedelta(hours=1))
    assert {facts["message"]: facts["count"] for facts in found} == dict.fromkeys(names, 300)


def test_errors_of_long_ago_make_room_first(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(logs, "_LARGEST_LOG", 4000)
    log = ErrorLog(str(tmp_path / "errors.jsonl"))
    for number in range(200):
        log.handle(record_of(f"Fault {number}"))
    found = last_errors(log.path, since=dt.datetime.now(dt.UTC) - dt.timedelta(hours=1))
    assert found[0]["message"] == "Fault 199"
    assert 5 < len(found) < 200
    assert log.path.stat().st_size < 4500


@pytest.mark.django_db
def test_wrong_hosts_do_not_flush_the_owners_errors(client: Client, tmp_path: Path) -> None:
    log = ErrorLog(str(tmp_path / "errors.jsonl"))
    log.handle(record_of("The disk is full"))
    root = logging.getLogger()
    root.addHandler(log)
    try:
        for number in range(20):
            assert client.get("/sign-in/", headers={"Host": f"made-up-{number}.example"}).status_code == 400
        logging.getLogger("django.security.DisallowedHost").error("Invalid HTTP_HOST header: 'x'")
        logging.getLogger("django.security.TooManyFieldsSent").error("Too many fields were sent")
    finally:
        root.removeHandler(log)
    found = last_errors(log.path, since=dt.datetime.now(dt.UTC) - dt.timedelta(hours=1))
    assert [facts["message"] for facts in found] == ["The disk is full"]


def test_the_file_of_errors_does_not_grow_without_end(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(logs, "_LARGEST_LOG", 1000)
    log = ErrorLog(str(tmp_path / "errors.jsonl"))
    for _ in range(50):
        log.handle(record_of("x" * 100))
    assert sum(path.stat().st_size for path in tmp_path.iterdir()) < 3000


def test_a_place_that_takes_no_log_stops_nobody(tmp_path: Path) -> None:
    ErrorLog(str(tmp_path / "missing" / "errors.jsonl")).handle(record_of())
    assert last_errors(tmp_path / "missing" / "errors.jsonl", since=NOW) == []
