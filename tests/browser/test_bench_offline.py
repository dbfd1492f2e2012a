"""The tablet with the network cut: an opened ticket goes on, and everything arrives in order, once, when it is back."""

from __future__ import annotations

import json
import os
import re
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from django.db import connection
from PIL import Image
from playwright.sync_api import Browser, FilePayload, Locator, Page, expect

from diagnosis.layout import applies
from diagnosis.models import Reading, Run, StepTimer, Tick
from diagnosis.runs import start_run
from tests.any_reading import any_reading
from tests.bench_runs import answered
from tests.browser import waiting
from tests.browser.conftest import CUT_OFF, PATIENCE_MS
from tests.browser.reading_steps import go_to_step
from tests.factories import PartLineFactory, TicketFactory, TicketRunFactory, UserFactory
from tests.known import known
from tests.shipped import shipped_checklist
from workshop.bench import offline_views, step_views
from workshop.bench.step_page import StepPage, every_step
from workshop.models import OpenSession, Photo, Ticket, User
from workshop.staff.stopped_shops import resume_shop, suspend_shop

Axe = Callable[..., None]
SignIn = Callable[[Page, User], None]
PANELS_ARE_KEPT = """async () => {
  for (const name of await caches.keys()) {
    if (!name.startsWith("bench-pages-")) continue;
    const paths = (await (await caches.open(name)).keys()).map((kept) => new URL(kept.url).pathname);
    const panels = paths.some((path) => path.endsWith("/panels/"));
    if (navigator.serviceWorker.controller && panels && paths.length > 1) return true;
  }
  return false;
}"""
FILES_KEPT = "async () => (await caches.keys()).filter((name) => name.startsWith('bench-files-'))"
UPDATED = """async () => {
  const { active, installing, waiting } = await navigator.serviceWorker.getRegistration();
  return !installing && !waiting && active?.state === "activated";
}"""
PAGES_KEPT = "async () => (await caches.keys()).filter((name) => name.startsWith('bench-pages-')).length"


@pytest.fixture
def mechanic(transactional_db: None) -> User:
    return UserFactory(mechanic=True)


@pytest.fixture
def run(mechanic: User) -> Run:
    ticket = TicketFactory(shop=mechanic.shop, number=1047, state="on_the_bench", mechanic=mechanic)
    run = start_run(checklist=shipped_checklist("sits-low"), facts=ticket.unit.facts(), by=mechanic)
    TicketRunFactory(ticket=ticket, run=run)
    return run


@pytest.fixture(autouse=True)
def _cut_off_is_no_fault(allowed_problems: list[str]) -> None:
    allowed_problems += CUT_OFF


def address(run: Run, key: str) -> str:
    return f"/bench/1047/run/{run.pk}/{key}/"


def reading(page: Page, label: str) -> Locator:
    """The field of a reading, and not the one for why it is outside."""
    return page.get_by_role("textbox", name=re.compile(f"^{label}(?!: why)"))


def heading(page: Page) -> Locator:
    return page.get_by_role("heading", level=1)


def answer(page: Page, word: str) -> None:
    page.get_by_role("group", name="Answer").get_by_role("button", name=word).click()


def open_and_keep(page: Page, path: str) -> None:
    """Open a page and wait until the tablet could do without the network."""
    page.goto(path)
    until(lambda: page.evaluate(PANELS_ARE_KEPT))


def until(came: Callable[[], object]) -> None:
    end = time.monotonic() + PATIENCE_MS / 1000
    while not came():
        assert time.monotonic() < end, "It never came."
        time.sleep(0.2)


def next_release(monkeypatch: pytest.MonkeyPatch) -> None:
    """The worker of a release in which no file has the name it had."""
    facts, _, source = offline_views._worker_script().partition(";\n")
    shop = json.loads(facts.removeprefix("self.SHOP = ")) | {"version": "next", "files": ["/static/img/mark.svg"]}
    monkeypatch.setattr(offline_views, "_kept_script", lambda: f"self.SHOP = {json.dumps(shop)};\n{source}")


def all_sent(page: Page) -> None:
    until(lambda: page.evaluate("async () => !(await bench.store.everything()).length"))
    expect(page.locator("#unsent")).to_be_hidden()


def photo() -> FilePayload:
    picture = BytesIO()
    Image.new("RGB", (60, 40), "grey").save(picture, "JPEG")
    return {"name": "stanchion.jpg", "mimeType": "image/jpeg", "buffer": picture.getvalue()}


def test_a_ticket_goes_on_over_a_reload_and_all_of_it_arrives_once_in_order(
    tablet: Page, sign_in: SignIn, axe: Axe, run: Run, mechanic: User
) -> None:
    sign_in(tablet, mechanic)
    open_and_keep(tablet, address(run, "record-arrival"))
    tablet.context.set_offline(True)
    reading(tablet, "Rest depth as it came in").fill("28")
    answer(tablet, "Done")
    expect(heading(tablet)).to_have_text("Read the pressure as it came in")
    expect(tablet.locator(".offline-note")).to_contain_text("the standard order")
    expect(tablet.locator("#unsent")).to_contain_text("1 answer not sent yet")
    answer(tablet, "Done")
    expect(tablet.locator("[data-tick-state]")).to_contain_text("without this reading")
    reading(tablet, "Pump reading as it came in").fill("80 psi")
    tablet.get_by_text("Note", exact=True).first.click()
    tablet.get_by_label("Note").fill("Gauge of the shop")
    answer(tablet, "Done")
    expect(heading(tablet)).to_have_text("Count and record the clicks")
    tablet.reload()
    expect(heading(tablet)).to_have_text("Count and record the clicks")
    expect(tablet.locator("#unsent")).to_contain_text("2 answers not sent yet")
    tablet.locator("input[type=file]").set_input_files([photo()])
    expect(tablet.locator("[data-own-photo]")).to_be_visible()
    axe(tablet)
    go_to_step(tablet, "prove-pressure")
    tablet.get_by_role("button", name="Start").click()
    expect(tablet.locator("[data-timer-left]")).to_have_text(re.compile(r"^(20:00|19:\d\d)$"))
    tablet.reload()
    expect(tablet.locator("[data-timer-left]")).to_have_text(re.compile(r"^19:\d\d$"))
    assert not Tick.objects.exists()
    tablet.context.set_offline(False)
    all_sent(tablet)
    assert list(Tick.objects.values_list("step__key", "note")) == [
        ("record-arrival", ""),
        ("arrival-pressure", "Gauge of the shop"),
    ]
    assert list(Reading.objects.values_list("typed", flat=True)) == ["28 mm", "80 psi"]
    assert known(Photo.objects.get().step).key == "record-clicks"
    assert StepTimer.objects.get().step.key == "prove-pressure"


def test_a_page_that_began_before_the_worker_is_kept_though_the_worker_is_there_by_now(
    tablet: Page, sign_in: SignIn, run: Run, mechanic: User
) -> None:
    """The worker takes over while the page loads, as on a tablet on which somebody signs in and goes straight on."""
    taken_over = "Object.defineProperty(ServiceWorkerContainer.prototype, 'controller', { get: () => ({}) })"
    tablet.add_init_script(f"if (self.ServiceWorkerContainer) {taken_over}")
    sign_in(tablet, mechanic)
    tablet.goto(address(run, "record-arrival"))
    until(lambda: tablet.evaluate("async () => Boolean(await caches.match(location.pathname))"))


def test_a_page_that_the_worker_did_not_take_over_asks_it_to(
    tablet: Page, sign_in: SignIn, run: Run, mechanic: User
) -> None:
    """As one that was on its way while the worker became active; loaded with no cache, a page is without it as well."""
    sign_in(tablet, mechanic)
    open_and_keep(tablet, address(run, "record-arrival"))
    with tablet.expect_navigation():
        tablet.context.new_cdp_session(tablet).send("Page.reload", {"ignoreCache": True})
    assert tablet.evaluate("performance.getEntriesByType('navigation')[0].workerStart") == 0
    until(lambda: tablet.evaluate("Boolean(navigator.serviceWorker.controller)"))


def test_the_parts_and_charges_of_an_opened_ticket_are_there_while_cut_off(
    tablet: Page, sign_in: SignIn, run: Run, mechanic: User
) -> None:
    line = PartLineFactory(ticket=Ticket.objects.get(number=1047), part=None, words="Wiper for 35 mm")
    sign_in(tablet, mechanic)
    open_and_keep(tablet, "/bench/1047/")
    tablet.reload()  # from here on the worker hands out the page and what follows it
    expect(tablet.locator("#part-lines")).to_contain_text(line.words)
    tablet.context.set_offline(True)
    tablet.reload()
    expect(tablet.locator("#part-lines")).to_contain_text(line.words)
    expect(tablet.get_by_role("heading", name="Charges")).to_be_visible()


def test_an_answer_is_taken_back_while_cut_off(tablet: Page, sign_in: SignIn, run: Run, mechanic: User) -> None:
    sign_in(tablet, mechanic)
    open_and_keep(tablet, address(run, "record-arrival"))
    tablet.context.set_offline(True)
    reading(tablet, "Rest depth as it came in").fill("28")
    answer(tablet, "Done")
    expect(heading(tablet)).to_have_text("Read the pressure as it came in")
    tablet.get_by_role("button", name=re.compile("Take back")).click()
    expect(heading(tablet)).to_have_text("Make it safe and record how it came in")
    tablet.context.set_offline(False)
    all_sent(tablet)
    assert list(Tick.objects.values_list("outcome", flat=True)) == ["done", "taken_back"]


def test_a_finding_is_sent_with_the_cause_that_was_chosen(
    tablet: Page, sign_in: SignIn, run: Run, mechanic: User
) -> None:
    for step in run.checklist.steps.all():
        if step.key == "recheck-after-rebuild":
            break
        outcome = {"check": "cant_tell", "work": "done"}.get(step.kind)
        if applies(step, run.facts) != "no" and step.key != "loaded-chamber" and outcome:
            readings = {plan["key"]: any_reading(plan) for plan in step.readings} if outcome == "done" else {}
            answered(run, step.key, outcome, readings)
    sign_in(tablet, mechanic)
    open_and_keep(tablet, address(run, "recheck-after-rebuild"))
    tablet.context.set_offline(True)
    chosen = tablet.locator('.cause-choice [value="found:worn-piston-seal:cause"]')
    chosen.click()
    expect(tablet.locator("#unsent")).to_contain_text("1 answer not sent yet")
    tablet.context.set_offline(False)
    all_sent(tablet)
    found = Tick.objects.get(outcome="found")
    assert found.cause is not None
    assert found.cause.key == "worn-piston-seal"


def test_a_reading_that_is_refused_later_is_put_right_at_its_step_before_the_rest_goes_out(
    tablet: Page, sign_in: SignIn, axe: Axe, run: Run, mechanic: User, allowed_problems: list[str]
) -> None:
    allowed_problems += ["status of 422", "status of 424"]
    sign_in(tablet, mechanic)
    open_and_keep(tablet, address(run, "record-arrival"))
    tablet.context.set_offline(True)
    reading(tablet, "Rest depth as it came in").fill("28 psi")
    answer(tablet, "Done")
    reading(tablet, "Pump reading as it came in").fill("80 psi")
    answer(tablet, "Done")
    tablet.context.set_offline(False)
    expect(tablet.locator("#unsent")).to_contain_text("was not taken")
    axe(tablet)
    tablet.get_by_role("button", name="Put it right").click()
    expect(reading(tablet, "Rest depth as it came in")).to_have_value("28 psi")
    expect(tablet.locator(".form-errors")).to_contain_text("not a unit of length")
    reading(tablet, "Rest depth as it came in").fill("28 mm")
    answer(tablet, "Done")
    all_sent(tablet)
    assert list(Reading.objects.values_list("typed", flat=True)) == ["28 mm", "80 psi"]


@pytest.mark.parametrize("comes_late", ["its step", "what became of its answer"])
def test_a_step_that_is_put_right_stays_open_when_what_was_asked_for_before_comes_late(
    tablet: Page, sign_in: SignIn, run: Run, mechanic: User, allowed_problems: list[str],
    monkeypatch: pytest.MonkeyPatch, comes_late: str,
) -> None:  # fmt: skip
    """A busy shop: the step after it, which the tablet showed by itself, or the answer that was given there."""
    allowed_problems += ["status of 422", "status of 424", "ERR_ABORTED"]
    asked, may_answer, was_answered = threading.Event(), threading.Event(), threading.Event()
    held = "_show_anew" if comes_late == "its step" else "answer_step"
    ours = getattr(step_views, held)

    def late(*args: Any, **words: Any) -> Any:
        asked.set()
        may_answer.wait(PATIENCE_MS / 1000)
        try:
            return ours(*args, **words)
        finally:
            was_answered.set()

    sign_in(tablet, mechanic)
    open_and_keep(tablet, address(run, "record-arrival"))
    tablet.context.set_offline(True)
    reading(tablet, "Rest depth as it came in").fill("28 psi")
    answer(tablet, "Done")
    expect(reading(tablet, "Pump reading as it came in")).to_be_visible()
    if comes_late == "its step":
        monkeypatch.setattr(step_views, held, late)
        tablet.context.set_offline(False)
    else:
        reading(tablet, "Pump reading as it came in").fill("80 psi")
        tablet.context.set_offline(False)
        expect(tablet.locator("#unsent")).to_contain_text("was not taken")
        monkeypatch.setattr(step_views, held, late)
        answer(tablet, "Done")
    waiting.until(tablet, asked.is_set)
    tablet.get_by_role("button", name="Put it right").click()
    reading(tablet, "Rest depth as it came in").fill("28 mm")
    may_answer.set()
    waiting.until(tablet, was_answered.is_set)
    waiting.until(tablet, lambda: tablet.evaluate("bench.state") == "blocked")
    tablet.evaluate("() => new Promise((drawn) => requestAnimationFrame(() => setTimeout(drawn, 50)))")
    expect(reading(tablet, "Rest depth as it came in")).to_have_value("28 mm")
    expect(tablet).to_have_url(re.compile("/record-arrival/$"))
    answer(tablet, "Done")
    all_sent(tablet)
    typed = ["28 mm"] if comes_late == "its step" else ["28 mm", "80 psi"]
    assert list(Reading.objects.order_by("pk").values_list("typed", flat=True)) == typed


@pytest.mark.parametrize(
    ("choice", "kept"), [("Keep mine as well", ["30 mm", "28 mm", "80 psi"]), ("Keep theirs", ["30 mm", "80 psi"])]
)
def test_what_another_tablet_answered_meanwhile_is_never_written_over_unasked(
    open_screen: Callable[..., Page], sign_in: SignIn, axe: Axe, run: Run, mechanic: User,
    allowed_problems: list[str], choice: str, kept: list[str],
) -> None:  # fmt: skip
    allowed_problems += ["status of 409", "status of 424"]
    tablet = open_screen("tablet")
    sign_in(tablet, mechanic)
    open_and_keep(tablet, address(run, "record-arrival"))
    tablet.context.set_offline(True)
    reading(tablet, "Rest depth as it came in").fill("28")
    answer(tablet, "Done")
    reading(tablet, "Pump reading as it came in").fill("80 psi")
    answer(tablet, "Done")
    expect(tablet.locator("#unsent")).to_contain_text("2 answers not sent yet")
    answered(run, "record-arrival", "done", {"rest_travel": "30 mm"})
    tablet.context.set_offline(False)
    expect(tablet.locator("#unsent")).to_contain_text("Somebody else answered meanwhile")
    assert Tick.objects.count() == 1
    axe(tablet)
    tablet.reload()
    tablet.get_by_role("button", name=choice).click()
    all_sent(tablet)
    assert list(Reading.objects.order_by("pk").values_list("typed", flat=True)) == kept


def test_signing_out_takes_the_kept_pages_away_and_another_never_sees_them(
    tablet: Page, sign_in: SignIn, run: Run, mechanic: User, allowed_problems: list[str]
) -> None:
    allowed_problems.append("status of 503")
    sign_in(tablet, mechanic)
    open_and_keep(tablet, address(run, "record-arrival"))
    assert tablet.evaluate(PAGES_KEPT) == 1
    tablet.get_by_role("button", name="Sign out").click()
    expect(heading(tablet)).to_have_text("Sign in")
    assert tablet.evaluate(PAGES_KEPT) == 0
    tablet.context.set_offline(True)
    tablet.goto(address(run, "record-arrival"))
    expect(heading(tablet)).to_have_text("Not connected")
    tablet.context.set_offline(False)
    other = UserFactory(mechanic=True, shop=mechanic.shop)
    sign_in(tablet, other)
    tablet.goto("/bench/")
    until(lambda: tablet.evaluate("async () => (await caches.keys()).join()").count(f"bench-pages-{other.pk}"))
    assert f"bench-pages-{mechanic.pk}" not in tablet.evaluate("async () => (await caches.keys()).join()")


def test_a_session_that_ran_out_asks_to_sign_in_and_then_goes_on(
    tablet: Page, sign_in: SignIn, run: Run, mechanic: User, allowed_problems: list[str]
) -> None:
    allowed_problems += ["status of 401", "Error Code 401"]
    sign_in(tablet, mechanic)
    open_and_keep(tablet, address(run, "record-arrival"))
    reading(tablet, "Rest depth as it came in").fill("28")
    OpenSession.objects.all().delete()
    answer(tablet, "Done")
    expect(tablet.locator("#unsent")).to_contain_text("You have been signed out")
    expect(tablet.locator("#unsent").get_by_role("link", name="Sign in")).to_be_visible()
    sign_in(tablet, mechanic)
    tablet.reload()
    all_sent(tablet)
    assert Tick.objects.get().outcome == "done"


def test_what_a_tablet_of_a_suspended_shop_wanted_to_send_stays_on_it_and_goes_out_afterwards(
    tablet: Page, sign_in: SignIn, run: Run, mechanic: User, allowed_problems: list[str]
) -> None:
    allowed_problems += ["status of 503", "Error Code 503"]
    shop = known(mechanic.shop)
    sign_in(tablet, mechanic)
    open_and_keep(tablet, address(run, "record-arrival"))
    reading(tablet, "Rest depth as it came in").fill("28")
    suspend_shop(shop=shop, who="Runa", why="")
    answer(tablet, "Done")
    expect(tablet.locator("#unsent")).to_contain_text("Everything is kept here; it is tried again.")
    assert not Tick.objects.exists()
    resume_shop(shop=shop, who="Runa")
    all_sent(tablet)
    assert Tick.objects.get().outcome == "done"


@pytest.fixture
def dying_server(tmp_path: Path, transactional_db: None) -> Iterator[Callable[[], tuple[str, subprocess.Popen[bytes]]]]:
    """Start a server on the tests' database, always at the same address; it dies once `death` is in `tmp_path`."""
    if connection.vendor != "sqlite":
        pytest.skip("A second process needs the tests' database in a file.")
    with socket.socket() as probe:
        probe.bind(("localhost", 0))
        port = probe.getsockname()[1]
    environment = os.environ | {"DATABASE_URL": f"sqlite:///{connection.settings_dict['NAME']}", "DEBUG": "1"}
    started: list[subprocess.Popen[bytes]] = []

    def start() -> tuple[str, subprocess.Popen[bytes]]:
        program = str(Path(__file__).with_name("dying_server.py"))
        command = [sys.executable, program, str(port), str(tmp_path / "death")]
        started.append(subprocess.Popen(command, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL))

        def answers() -> bool:
            with socket.socket() as probe:
                return probe.connect_ex(("localhost", port)) == 0

        until(answers)
        return f"http://localhost:{port}", started[-1]

    yield start
    for process in started:
        process.kill()
        process.wait()


def test_what_is_to_be_kept_is_asked_for_again_after_a_failure(
    tablet: Page, sign_in: SignIn, run: Run, mechanic: User, monkeypatch: pytest.MonkeyPatch,
    allowed_problems: list[str],
) -> None:  # fmt: skip
    allowed_problems += ["status of 500"]
    tries: list[int] = []

    def failing_once(*args: Any) -> list[StepPage]:
        tries.append(1)
        if len(tries) == 1:
            raise OSError("The disk was busy.")
        return every_step(*args)

    monkeypatch.setattr(offline_views, "every_step", failing_once)
    sign_in(tablet, mechanic)
    open_and_keep(tablet, address(run, "record-arrival"))
    assert len(tries) > 1
    tablet.context.set_offline(True)
    tablet.reload()
    expect(heading(tablet)).to_have_text("Make it safe and record how it came in")


def test_a_server_that_dies_between_write_and_answer_has_the_tick_once(
    chromium: Browser, sign_in: SignIn, run: Run, mechanic: User, tmp_path: Path,
    dying_server: Callable[[], tuple[str, subprocess.Popen[bytes]]],
) -> None:  # fmt: skip
    url, process = dying_server()
    context = chromium.new_context(base_url=url, viewport={"width": 1024, "height": 768}, has_touch=True)
    page = context.new_page()
    sign_in(page, mechanic)
    open_and_keep(page, address(run, "record-arrival"))
    (tmp_path / "death").touch()
    reading(page, "Rest depth as it came in").fill("28")
    answer(page, "Done")
    assert process.wait(timeout=60) == 9
    assert Tick.objects.count() == 1
    expect(page.locator("#unsent")).to_contain_text("1 answer not sent yet")
    expect(heading(page)).to_have_text("Read the pressure as it came in")  # it has noticed that nobody answers
    page.reload()
    expect(heading(page)).to_have_text("Read the pressure as it came in")
    reading(page, "Pump reading as it came in").fill("80 psi")
    answer(page, "Done")
    expect(page.locator("#unsent")).to_contain_text("2 answers not sent yet")
    (tmp_path / "death").unlink()
    dying_server()
    all_sent(page)
    assert list(Tick.objects.values_list("step__key", flat=True)) == ["record-arrival", "arrival-pressure"]
    assert Reading.objects.count() == 2
    context.close()


def test_an_update_of_the_tablet_loses_nothing_that_waits_to_be_sent(
    tablet: Page, sign_in: SignIn, run: Run, mechanic: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A release brings other scripts while an answer lies on the tablet: it stays, the pages that were kept still open
    with the files they name, and all of it arrives.
    """
    sign_in(tablet, mechanic)
    open_and_keep(tablet, address(run, "record-arrival"))
    tablet.context.set_offline(True)
    reading(tablet, "Rest depth as it came in").fill("28")
    answer(tablet, "Done")
    expect(heading(tablet)).to_have_text("Read the pressure as it came in")
    expect(tablet.locator("#unsent")).to_contain_text("1 answer not sent yet")
    next_release(monkeypatch)
    before = tablet.evaluate(FILES_KEPT)
    tablet.route(re.compile(r"/answer/$"), lambda route: route.abort())  # back, but for answers: the queue waits
    tablet.context.set_offline(False)
    tablet.evaluate("async () => (await navigator.serviceWorker.getRegistration()).update()")
    until(lambda: set(tablet.evaluate(FILES_KEPT)) - set(before))
    until(lambda: tablet.evaluate(UPDATED))
    tablet.context.set_offline(True)
    tablet.reload()
    expect(heading(tablet)).to_have_text("Read the pressure as it came in")
    expect(tablet.locator("#unsent")).to_contain_text("1 answer not sent yet")
    assert tablet.evaluate("getComputedStyle(document.querySelector('.board')).backgroundImage") != "none"
    tablet.unroute_all()
    tablet.context.set_offline(False)
    all_sent(tablet)
    assert list(Tick.objects.values_list("step__key", flat=True)) == ["record-arrival"]
