"""A mechanic at the tablet who never follows what is suggested, and what has to hold after each of his taps.

He answers other steps than the next one, with readings that cannot be, takes answers back, presses twice and says that
the unit is otherwise; all of it drawn from a seed, and none of it looks at the clock. Then he closes what ready names.
"""

from __future__ import annotations

import contextlib
import random
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from playwright.sync_api import Locator, Page, Response, TimeoutError, expect

from diagnosis.layout_plans import PROOF
from diagnosis.models import Tick, ToldOtherwise
from diagnosis.runs_state import RunState, StepState
from tests.browser.reading_steps import keep_the_wait, read_step
from workshop.models import Ticket
from workshop.work.proof import MissingProof, missing_proof_of
from workshop.work.work import run_states

# Nothing is under way: what was pressed is stored, refused or put aside, and the page says so.
_AT_REST = """() => window.bench && ["idle", "blocked"].includes(bench.state)
  && !document.querySelector("form[data-sending], .htmx-request, .offline-note")"""
_SAYS_WHY = ", ".join(
    f"main {place}"
    for place in (".message--error", ".form-errors li", ".field__error", "[data-conflict]", "[data-not-counted]")
)
_NONSENSE = ("", "abc", "999999", "-3")
MOST_ANSWERS, MOST_HOPS = 70, 15


@dataclass
class Obstinate:
    """At `ticket`, with one run begun. `typed` says what is read of each reading where he reads it."""

    page: Page
    ticket: Ticket
    typed: Mapping[str, str]
    leave: frozenset[str]
    chance: random.Random
    did: dict[str, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.page.on("response", self._hear)

    @staticmethod
    def _hear(answer: Response) -> None:
        assert answer.status < 500, f"{answer.url}: {answer.status}"

    # ---- Pressing anything ----
    @property
    def was_refused(self) -> bool:
        """Whether anything that he pressed was refused so far."""
        return any(what.endswith("refused") for what in self.did)

    def press_anything(self) -> None:
        """One tap of his, and what must hold after it: no error page, and whatever is refused says why."""
        kind = self.chance.choices(["answer", "twice", "otherwise", "take back"], [10, 2, 2, 2])[0]
        before = self._records()
        did = {"otherwise": self._say_otherwise, "take back": self._take_back}.get(kind, self._answer(kind == "twice"))
        if not did():
            return
        self._rest()
        expect(self.page.get_by_role("heading", level=1)).to_be_visible()
        added = self._records() - before
        assert added <= 1, "pressed twice it counts once"
        if not added:
            assert self._reason(), f"{kind} at {self.page.url} was refused and nothing says why"
        self._count(f"{kind}, {'taken' if added else 'refused'}")
        if self.chance.random() < 0.6:
            self.drop_refused()

    def _answer(self, twice: bool) -> Callable[[], bool]:
        def press() -> bool:
            self._open(self._not_the_next_one().key)
            fields = self.page.locator("#step-form input[name^=reading-]:not([type=radio])")
            if self.chance.random() < 0.35:
                for place in range(fields.count()):
                    nonsense = self.chance.choice(_NONSENSE)
                    if fields.nth(place).is_visible():
                        fields.nth(place).fill(nonsense)
            else:
                read_step(self.page, self._typed, leave=self.leave)
            buttons = self.page.locator(".answers button, .cause-choice__buttons button")
            place = 0 if self.chance.random() < 0.5 else self.chance.randrange(buttons.count())
            button = buttons.nth(place)
            self._press(button, twice=twice)
            return True

        return press

    def _say_otherwise(self) -> bool:
        self._go(f"{self._run_url()}otherwise/")
        choices = self.page.locator('button[name="condition"]')
        place = self.chance.randrange(choices.count())
        with self.page.expect_navigation():
            choices.nth(place).click()
        return True

    def _take_back(self) -> bool:
        answered = [one for one in self._state().steps if one.tick]
        if not answered:
            return False
        self._open(self.chance.choice(answered).key)
        back = self.page.locator('.step-card form[data-kind="take-back"] button')
        if not back.count():
            return False
        self._press(back)
        return True

    def _not_the_next_one(self) -> StepState:
        """Mostly work or a check that the unit lets him do, now and then anything; what is suggested only where nothing
        else can be done."""
        state = self._state()
        coming = state.next.step_state if state.next else None
        others = [one for one in state.steps if one is not coming]
        free = [
            one
            for one in others
            if one.step.kind != PROOF and not (one.tick or one.missing_needs or one.is_dangerous_now)
        ]
        if coming is not None and not free:
            free = [coming]
        return self.chance.choice(free if free and self.chance.random() < 0.75 else others)

    def drop_refused(self) -> None:
        """What was refused he drops, until nothing of his waits on the tablet."""
        drop = self.page.locator("#unsent").get_by_role("button", name=re.compile("^(Discard mine|Keep theirs)$"))
        for _ in range(MOST_HOPS):
            self._rest()
            if not drop.count():
                return
            unsent = self.page.evaluate("async () => (await bench.mine()).length")
            with contextlib.suppress(TimeoutError):  # it was sent again meanwhile, and taken
                drop.first.click(timeout=5000)
                self.page.wait_for_function("async (had) => (await bench.mine()).length < had", arg=unsent)
        raise AssertionError("what is refused cannot be dropped")

    # ---- Making good ----
    def missing(self) -> list[MissingProof]:
        return missing_proof_of(Ticket.objects.get(pk=self.ticket.pk))

    def close_what_ready_names(self) -> None:
        """From what the ticket's page names as missing to the step, from there to what has to come first."""
        for _ in range(MOST_ANSWERS):
            missing = self.missing()
            if not missing:
                return
            named = next(one for one in missing if one.step_key)
            self._open(named.step_key)
            self._hop_to_what_comes_first()
            self._answer_well()
        raise AssertionError(f"it never ends: {[one.words for one in self.missing()]}")

    def _hop_to_what_comes_first(self) -> None:
        first = self.page.locator(".step-card .message", has_text="First:").get_by_role("link")
        for _ in range(MOST_HOPS):
            if not first.count():
                return
            key = (first.first.get_attribute("href") or "").rstrip("/").rsplit("/", 1)[1]
            self._open(key)
        raise AssertionError(f"what comes first leads round in a circle at {self.page.url}")

    def _answer_well(self) -> None:
        before, page = self._records(), self.page
        read_step(page, self._typed, leave=self.leave)
        keep_the_wait(page)
        button = page.get_by_role("group", name="Answer").get_by_role("button").first
        self._press(button)
        self._rest()
        if self._records() == before:
            asked = page.locator("[data-asked] input, #step-reason-wait-not-kept")
            for one in asked.all():
                one.fill("Measured twice")
            self._press(button)
            self._rest()
        assert self._records() == before + 1, f"{page.url} is refused: {self._reason()}"
        self._count("made good")

    # ---- The page ----
    def _typed(self, key: str) -> str:
        return self.typed[key]

    def _press(self, button: Locator, *, twice: bool = False) -> None:
        self.page.evaluate("document.activeElement?.blur()")
        (button.dblclick if twice else button.click)()

    def _rest(self) -> None:
        self.page.wait_for_function(_AT_REST)

    def _reason(self) -> str:
        said = [one.inner_text().strip() for one in self.page.locator(_SAYS_WHY).all() if one.is_visible()]
        return next((words for words in said if len(words.split()) > 3), "")

    def _go(self, url: str) -> None:
        answer = self.page.goto(url)
        assert answer is not None
        assert answer.status == 200, f"{url}: {answer.status}"

    def _run_url(self) -> str:
        return f"/bench/{self.ticket.number}/run/{self._state().run.pk}/"

    def _open(self, key: str) -> None:
        self._go(f"{self._run_url()}{key}/")
        self._rest()

    def _state(self) -> RunState:
        return run_states(Ticket.objects.get(pk=self.ticket.pk))[0]

    def _records(self) -> int:
        return Tick.objects.count() + ToldOtherwise.objects.count()

    def _count(self, what: str) -> None:
        self.did[what] = self.did.get(what, 0) + 1
