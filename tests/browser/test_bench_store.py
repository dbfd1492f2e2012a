"""What the tablet keeps and sends, piece by piece: bench-store.js, bench-queue.js and the browser's own IndexedDB.

The scripts run on a page of the bench as it is served; only the addresses that answers are sent to are played here.
"""

from __future__ import annotations

import json
import re
import time
from collections.abc import Callable
from typing import Any
from urllib.parse import parse_qs

import pytest
from playwright.sync_api import Page, Route, expect

from diagnosis.models import Run, Tick
from diagnosis.runs import start_run
from tests.browser.conftest import CUT_OFF
from tests.factories import TicketFactory, TicketRunFactory, UserFactory
from tests.shipped import shipped_checklist
from workshop.models import User

pytestmark = pytest.mark.any_database  # the shop is played here; what is kept lies in the browser

SignIn = Callable[[Page, User], None]
RUN = "/bench/7/run/1/"
ADD = """([run, step, kind, outcome, words]) => bench.add({
  kind, step, words, title: `Step ${step}`, file: null, run, url: `${run}${step}/${kind}/`,
  fields: { version: "0", client_id: `id-${step}-${kind}`, outcome },
})"""
STATE = "bench.state"
EARLY = 424  # it rests on one before it that is not in yet
ALL_SENT = "async () => bench.state === 'idle' && !(await bench.store.everything()).length"
KEPT = "async () => (await bench.store.everything()).map((entry) => `${entry.step} ${entry.status}`)"
CONFLICT = '<div data-conflict data-version="5" data-steps="{steps}"></div><p class="form-errors"></p>'


class Shop:
    """Plays the shop's computer for the answers of one run: what it was sent, and what it says next."""

    def __init__(self) -> None:
        self.posts: list[dict[str, str]] = []
        self.says: list[int | str | tuple[int, str]] = []

    def answer(self, route: Route) -> None:
        sent = {name: values[0] for name, values in parse_qs(route.request.post_data or "").items()}
        self.posts.append(sent | {"path": re.sub(r"^.*/run/\d+/", "", route.request.url)})
        says = self.says.pop(0) if self.says else 200
        if isinstance(says, str):
            route.abort(says)
        elif says == 200:
            saved = {"version": len(self.posts), "next": f"{RUN}next/"}
            route.fulfill(status=200, content_type="application/json", body=json.dumps(saved))
        else:
            status, text = says if isinstance(says, tuple) else (says, "")
            route.fulfill(status=status, content_type="text/html", body=text)

    def ids(self) -> list[str]:
        return [post["client_id"] for post in self.posts]


@pytest.fixture
def mechanic(transactional_db: None) -> User:
    return UserFactory(mechanic=True)


@pytest.fixture
def shop() -> Shop:
    return Shop()


@pytest.fixture
def tab(
    open_screen: Callable[..., Page], sign_in: SignIn, mechanic: User, shop: Shop, allowed_problems: list[str]
) -> Page:
    """The board of the bench, with a clock that a test can put on and a shop that a test plays."""
    allowed_problems += ["Failed to load resource", "ERR_FAILED"]
    page = open_screen("tablet", service_workers="block")
    sign_in(page, mechanic)
    page.context.route("**/bench/*/run/**", shop.answer)
    page.context.add_init_script("document.addEventListener('bench:changed', () => { window.hasBegun = true; });")
    page.clock.install()
    open_board(page)
    return page


def open_board(page: Page) -> None:
    page.goto("/bench/")
    until(page, "() => window.hasBegun")  # a page begins by sending what is kept


def until(page: Page, script: str) -> None:
    """Asked from here: the page's policy forbids the polling that a page could do itself."""
    end = time.monotonic() + 30
    while not page.evaluate(script):
        assert time.monotonic() < end, script
        time.sleep(0.1)


def add(page: Page, step: str, kind: str = "answer", outcome: str = "done", words: str = "Done") -> dict[str, Any]:
    kept: dict[str, Any] = page.evaluate(ADD, [RUN, step, kind, outcome, words])
    return kept


def add_at(page: Page, run: str, step: str) -> dict[str, Any]:
    kept: dict[str, Any] = page.evaluate(ADD, [run, step, "answer", "done", "Done"])
    return kept


def send(page: Page) -> str:
    page.evaluate("bench.send()")
    state: str = page.evaluate(STATE)
    return state


def own(page: Page) -> dict[str, Any]:
    known: dict[str, Any] = page.evaluate("(run) => bench.store.own(run)", RUN)
    return known


def test_what_was_pressed_goes_out_in_the_order_of_pressing_also_after_a_reload(tab: Page, shop: Shop) -> None:
    shop.says = ["failed"]
    for step in ("c", "a", "b"):
        add(tab, step)
    assert send(tab) == "offline"
    assert tab.evaluate(KEPT) == ["c waiting", "a waiting", "b waiting"]
    shop.posts.clear()
    tab.reload()
    until(tab, ALL_SENT)
    assert shop.ids() == ["id-c-answer", "id-a-answer", "id-b-answer"]


def test_each_answer_names_those_of_this_tablet_before_it(tab: Page, shop: Shop) -> None:
    for step in ("a", "b", "c"):
        add(tab, step)
    assert send(tab) == "idle"
    assert [post.get("after", "") for post in shop.posts] == ["", "id-a-answer", "id-a-answer id-b-answer"]
    known = own(tab)
    assert known["ids"] == shop.ids()
    assert known["seen"] == 3
    assert known["answers"]["b"] == {"words": "Done", "outcome": "done"}


def test_what_is_taken_back_is_no_answer_any_more_but_still_one_of_its_own(tab: Page) -> None:
    add(tab, "a")
    add(tab, "a", kind="take-back", words="Taken back")
    assert send(tab) == "idle"
    known = own(tab)
    assert known["answers"] == {}
    assert known["ids"] == ["id-a-answer", "id-a-take-back"]


def test_the_outcome_that_is_remembered_is_without_its_detail(tab: Page) -> None:
    add(tab, "a", outcome="found:worn-bush", words="Found")
    assert send(tab) == "idle"
    assert own(tab)["answers"] == {"a": {"words": "Found", "outcome": "found"}}


@pytest.mark.parametrize(
    ("sent", "counts"),
    [
        ("found", "found"),
        ("found:worn-bush:cause", "found"),
        ("found::cause", "found"),
        ("found:worn-bush:danger", "found"),
        ("found::by_the_way", "noted"),
        ("found::danger", "noted"),
        ("ruled_out", "ruled_out"),
    ],
)
def test_what_is_not_the_cause_is_remembered_as_noted(tab: Page, sent: str, counts: str) -> None:
    add(tab, "a", outcome=sent, words="Found")
    assert send(tab) == "idle"
    assert own(tab)["answers"]["a"]["outcome"] == counts


def test_the_last_two_hundred_of_its_own_are_enough(tab: Page) -> None:
    tab.evaluate(
        """async (run) => {
          for (let number = 1; number <= 203; number += 1) {
            const entry = { seq: 0, kind: "answer", step: "a", words: "", run };
            await bench.store.settled({ ...entry, fields: { client_id: `n${number}`, outcome: "done" } }, number);
          }
        }""",
        RUN,
    )
    ids = own(tab)["ids"]
    assert (len(ids), ids[0], ids[-1]) == (200, "n4", "n203")


def test_what_the_server_showed_whole_replaces_what_was_known_but_never_goes_back(tab: Page) -> None:
    add(tab, "a")
    add(tab, "b")
    assert send(tab) == "idle"
    tab.evaluate("(run) => bench.store.seen(run, 1, true)", RUN)  # an older page that came late
    assert (own(tab)["seen"], sorted(own(tab)["answers"])) == (2, ["a", "b"])
    tab.evaluate("(run) => bench.store.seen(run, 4, true)", RUN)
    assert (own(tab)["seen"], own(tab)["answers"]) == (4, {})


def test_out_of_the_queue_and_known_as_its_own_are_one_transaction(tab: Page, shop: Shop) -> None:
    add(tab, "a")
    tab.evaluate(
        """() => {
          const { put } = IDBObjectStore.prototype;
          IDBObjectStore.prototype.put = function (...given) {
            const asked = put.apply(this, given);
            if (this.name === "own") this.transaction.abort();
            return asked;
          };
          window.mended = () => { IDBObjectStore.prototype.put = put; };
        }"""
    )
    send(tab)
    assert tab.evaluate(KEPT) == ["a waiting"]
    assert own(tab)["ids"] == []
    tab.evaluate("mended()")
    assert send(tab) == "idle"
    assert tab.evaluate(KEPT) == []
    assert shop.ids() == ["id-a-answer", "id-a-answer"]  # a second sending carries the same id, and is harmless
    assert own(tab)["ids"] == ["id-a-answer"]


@pytest.mark.parametrize(("said", "state"), [("failed", "offline"), (503, "trouble"), (200, "idle")])
def test_what_did_not_arrive_is_tried_again_by_itself(tab: Page, shop: Shop, said: int | str, state: str) -> None:
    shop.says = [said]
    add(tab, "a")
    assert send(tab) == state
    assert tab.evaluate(KEPT) == ([] if state == "idle" else ["a waiting"])
    tab.clock.run_for(9000)
    until(tab, ALL_SENT)
    assert shop.ids() == ["id-a-answer"] * (1 if state == "idle" else 2)
    assert int(shop.posts[-1]["waited"]) >= (0 if state == "idle" else 8)


def test_the_network_coming_back_sends_at_once(tab: Page, shop: Shop) -> None:
    shop.says = ["failed"]
    add(tab, "a")
    assert send(tab) == "offline"
    tab.evaluate("window.dispatchEvent(new Event('online'))")
    until(tab, ALL_SENT)
    assert len(shop.posts) == 2


@pytest.mark.parametrize("status", [401, 403])
def test_who_was_signed_out_keeps_everything(tab: Page, shop: Shop, status: int) -> None:
    shop.says = [status]
    add(tab, "a")
    assert send(tab) == "signed-out"
    assert tab.evaluate(KEPT) == ["a waiting"]


def test_an_answer_page_instead_of_json_is_not_taken_for_saved(tab: Page, shop: Shop) -> None:
    shop.says = [(200, "<html>A page of the network’s own sign-in</html>")]
    add(tab, "a")
    assert send(tab) == "trouble"
    assert tab.evaluate(KEPT) == ["a waiting"]


@pytest.mark.parametrize(
    ("status", "kept_as"), [(409, "conflict"), (422, "refused"), (404, "refused")], ids=["conflict", "refused", "gone"]
)
def test_what_needs_a_person_keeps_back_what_rests_on_it(tab: Page, shop: Shop, status: int, kept_as: str) -> None:
    shop.says = [(status, CONFLICT.format(steps="a")), EARLY]
    add(tab, "a")
    add(tab, "b")
    assert send(tab) == "blocked"
    shop.says = [EARLY]
    assert send(tab) == "blocked"  # trying again does not push past it
    assert shop.ids() == ["id-a-answer", "id-b-answer", "id-b-answer"]
    assert [post.get("behind") for post in shop.posts] == [None, "a", "a"]
    assert tab.evaluate(KEPT) == [f"a {kept_as}", "b waiting"]
    shop.says = [EARLY]
    tab.reload()
    until(tab, "bench.state === 'blocked'")
    assert tab.evaluate(KEPT) == [f"a {kept_as}", "b waiting"]


def test_what_stands_apart_from_it_still_goes_out(tab: Page, shop: Shop) -> None:
    """a is refused, b rests on it and c on b; d, a timer and another ticket's answer have nothing to do with them."""
    shop.says = [(422, ""), EARLY, EARLY]
    for step in ("a", "b", "c", "d"):
        add(tab, step)
    add(tab, "a", kind="start-timer")
    add_at(tab, "/bench/7/run/2/", "e")
    add_at(tab, "/bench/8/run/3/", "f")
    assert send(tab) == "blocked"
    assert [post.get("behind") for post in shop.posts] == [None, "a", "a b", "a b c", None, None]
    assert [post["path"] for post in shop.posts][3:] == ["d/answer/", "a/start-timer/", "f/answer/"]
    assert tab.evaluate(KEPT) == ["a refused", "b waiting", "c waiting", "e waiting"]
    tab.evaluate("async () => bench.decide((await bench.mine())[0])")
    assert send(tab) == "idle"
    assert [post["path"] for post in shop.posts][6:] == ["b/answer/", "c/answer/", "e/answer/"]
    assert [post.get("behind") for post in shop.posts][6:] == [None, None, None]


def test_several_can_need_a_person_and_each_is_decided_by_itself(tab: Page, shop: Shop) -> None:
    shop.says = [(409, CONFLICT.format(steps="a")), (422, "")]
    add(tab, "a")
    add(tab, "b")
    assert send(tab) == "blocked"
    assert tab.evaluate(KEPT) == ["a conflict", "b refused"]
    add(tab, "b", outcome="left_out", words="Left out")  # the second is put right where it stands
    assert send(tab) == "blocked"
    assert tab.evaluate(KEPT) == ["a conflict"]
    tab.evaluate("async () => bench.decide((await bench.mine())[0])")
    assert send(tab) == "idle"


def test_once_decided_the_rest_goes_on_from_what_was_seen(tab: Page, shop: Shop) -> None:
    shop.says = [(409, CONFLICT.format(steps="a c")), EARLY, EARLY]
    for step in ("a", "b", "c"):
        add(tab, step)
    assert send(tab) == "blocked"
    tab.evaluate("async () => bench.decide((await bench.mine())[0])")
    assert send(tab) == "idle"
    # b was given without the news and goes on from it; c was answered by somebody else too, so the server must ask.
    assert [(post["path"], post["version"]) for post in shop.posts[3:]] == [("b/answer/", "5"), ("c/answer/", "0")]


def test_put_right_it_stands_where_it_stood(tab: Page, shop: Shop) -> None:
    shop.says = [(422, ""), EARLY]
    add(tab, "a")
    add(tab, "b")
    assert send(tab) == "blocked"
    add(tab, "a", outcome="left_out", words="Left out")
    assert tab.evaluate(KEPT) == ["a waiting", "b waiting"]
    assert send(tab) == "idle"
    assert [(post["path"], post["outcome"]) for post in shop.posts[2:]] == [
        ("a/answer/", "left_out"),
        ("b/answer/", "done"),
    ]


def test_pressed_twice_is_kept_once(tab: Page) -> None:
    first, second = add(tab, "a"), add(tab, "a")
    assert first["seq"] == second["seq"]
    assert tab.evaluate(KEPT) == ["a waiting"]


def test_two_tabs_send_each_answer_once_and_in_order(tab: Page, shop: Shop) -> None:
    other = tab.context.new_page()
    open_board(other)
    for step in ("a", "b", "c", "d"):
        add(tab if step in "ac" else other, step)
    both = "() => { window.sent = Promise.all([bench.send(), bench.send()]); }"
    tab.evaluate(both)
    other.evaluate(both)
    tab.evaluate("sent")
    other.evaluate("sent")
    assert shop.ids() == ["id-a-answer", "id-b-answer", "id-c-answer", "id-d-answer"]
    assert own(other)["ids"] == shop.ids()


def test_what_somebody_else_left_on_the_tablet_waits_for_them(tab: Page, shop: Shop, sign_in: SignIn) -> None:
    shop.says = ["failed"]
    add(tab, "a")
    assert send(tab) == "offline"
    sign_in(tab, UserFactory(mechanic=True))
    shop.posts.clear()
    open_board(tab)
    assert shop.posts == []
    assert tab.evaluate(KEPT) == ["a waiting"]
    assert own(tab)["ids"] == []
    expect(tab.locator("#unsent")).to_contain_text("1 of somebody else")


# ---- A tablet that cannot keep anything ----

FULL = """() => {
  IDBObjectStore.prototype.add = function () {
    throw new DOMException("no room", "QuotaExceededError");
  };
}"""
BROKEN = """IDBFactory.prototype.open = function () {
  const asked = new EventTarget();
  Object.defineProperty(asked, "error", { value: new DOMException("broken", "UnknownError") });
  setTimeout(() => asked.onerror?.(new Event("error")), 0);
  return asked;
};"""


@pytest.fixture
def run(mechanic: User) -> Run:
    ticket = TicketFactory(shop=mechanic.shop, number=1047, state="on_the_bench", mechanic=mechanic)
    run = start_run(checklist=shipped_checklist("sits-low"), facts=ticket.unit.facts(), by=mechanic)
    TicketRunFactory(ticket=ticket, run=run)
    return run


@pytest.fixture
def step(
    open_screen: Callable[..., Page], sign_in: SignIn, mechanic: User, run: Run, allowed_problems: list[str]
) -> Callable[..., Page]:
    """Open a step of a run on a tablet; `before` is a script that is there before those of the page."""
    allowed_problems += CUT_OFF

    def open_step(*, before: str = "") -> Page:
        page = open_screen("tablet", service_workers="block")
        sign_in(page, mechanic)
        if before:
            page.add_init_script(before)
        page.goto(f"/bench/1047/run/{run.pk}/record-arrival/")
        page.get_by_label("Rest depth as it came in").fill("28")
        return page

    return open_step


def press_done(page: Page) -> None:
    page.get_by_role("group", name="Answer").get_by_role("button", name="Done").click()


def test_a_full_disk_is_told_by_the_browser_s_own_limit(tab: Page, live_server: Any) -> None:
    limits = tab.context.new_cdp_session(tab)
    limits.send("Storage.overrideQuotaForOrigin", {"origin": live_server.url, "quotaSize": 100_000})
    why = tab.evaluate(
        """async () => {
          const entry = { user: bench.user, status: "waiting", words: "x".repeat(5_000_000) };
          return bench.store.add(entry).then(() => "kept", (problem) => `${problem.name} ${bench.store.problem}`);
        }"""
    )
    assert why == "QuotaExceededError full"
    expect(tab.locator("#unsent")).to_contain_text("This tablet’s memory is full")
    limits.send("Storage.overrideQuotaForOrigin", {"origin": live_server.url})
    add(tab, "a")
    assert send(tab) == "idle"
    expect(tab.locator("#unsent")).to_be_hidden()


@pytest.mark.parametrize("kind", ["full", "broken"])
def test_without_room_an_answer_goes_straight_to_the_shop_s_computer(step: Callable[..., Page], kind: str) -> None:
    page = step(before=BROKEN if kind == "broken" else "")
    if kind == "full":
        page.evaluate(FULL)
    press_done(page)
    expect(page.get_by_role("heading", level=1)).to_have_text("Read the pressure as it came in")
    tick = Tick.objects.get()
    assert (tick.step.key, tick.outcome) == ("record-arrival", "done")


@pytest.mark.parametrize(
    ("kind", "words"),
    [("full", "This tablet’s memory is full"), ("broken", "This tablet cannot keep answers")],
)
def test_without_room_and_without_a_network_it_says_so_and_loses_nothing(
    step: Callable[..., Page], kind: str, words: str
) -> None:
    page = step(before=BROKEN if kind == "broken" else "")
    if kind == "full":
        page.evaluate(FULL)
    page.context.set_offline(True)
    press_done(page)
    expect(page.locator("#unsent")).to_contain_text(words)
    expect(page.locator("[data-tick-state]")).to_contain_text("Not saved")
    expect(page.get_by_label("Rest depth as it came in")).to_have_value("28")
    assert not Tick.objects.exists()
    page.context.set_offline(False)
    press_done(page)
    expect(page.get_by_role("heading", level=1)).to_have_text("Read the pressure as it came in")
    assert Tick.objects.get().outcome == "done"


def test_a_store_that_did_not_open_once_is_tried_again(tab: Page) -> None:
    tab.add_init_script(
        """{
          const { open } = IDBFactory.prototype;
          let left = 5;
          window.opens = () => { left = 0; };
          IDBFactory.prototype.open = function (...given) {
            if (!left) return open.apply(this, given);
            throw new DOMException("not now", "UnknownError");
          };
        }"""
    )
    tab.goto("/bench/")
    assert tab.evaluate("bench.store.everything().then(() => 'kept', (problem) => problem.name)") == "UnknownError"
    expect(tab.locator("#unsent")).to_contain_text("This tablet cannot keep answers")
    tab.evaluate("opens()")
    add(tab, "a")
    assert send(tab) == "idle"
    expect(tab.locator("#unsent")).to_be_hidden()
