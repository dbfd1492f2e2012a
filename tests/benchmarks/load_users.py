"""What twenty people do at once, for Locust: tablets that tick, desks that search and book.

Read by `python -m locust -f`, away from the tests' process. `LOAD_PEOPLE` is a file with who they are, made by
tests/benchmarks/load_shop.py; the id of each tick and booking that the shop acknowledged goes into `LOAD_KEPT`.
"""

from __future__ import annotations

import json
import os
import random
import uuid
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

from locust import FastHttpUser, between, constant, events, task

TOKEN = "t" * 32  # a form's token is the cookie's
PEOPLE = json.loads(Path(os.environ["LOAD_PEOPLE"]).read_text())
KEPT: dict[str, list[str]] = {"ticked": [], "booked": []}
STEP = "record-arrival"
TYPED = ("wrenfield", "kettlebeck", "hesper", "culvert", "01632 960", "creaks under")
PAUSE_TYPING_S = 0.15


def _write_what_was_kept(**_: Any) -> None:
    Path(os.environ["LOAD_KEPT"]).write_text(json.dumps(KEPT))


events.quitting.add_listener(_write_what_was_kept)


class Person(FastHttpUser):
    """Signed in by a session of their own."""

    abstract = True
    seats: list[dict[str, Any]] = []

    def on_start(self) -> None:
        self.seat = self.seats.pop()
        self.chance = random.Random(self.seat["session"])

    def ask(self, kind: str, path: str, sent: dict[str, str] | None = None, *, htmx: bool = False) -> Any:
        """One request under the name of its kind; None where it went wrong, which Locust counts."""
        headers = {"Cookie": f"sessionid={self.seat['session']}; csrftoken={TOKEN}"}
        headers |= {"HX-Request": "true"} if htmx else {}
        headers |= {"Content-Type": "application/x-www-form-urlencoded"} if sent is not None else {}
        body = None if sent is None else urlencode({"csrfmiddlewaretoken": TOKEN, **sent})
        wanted = 302 if sent is not None and not htmx else 200
        with self.client.request(
            "GET" if sent is None else "POST", path, name=kind, data=body, headers=headers, allow_redirects=False,
            catch_response=True,
        ) as answer:  # fmt: skip
            if answer.status_code != wanted:
                answer.failure(f"{kind}: {answer.status_code} {str(answer.text)[:200]}")
                return None
            answer.success()
            return answer


class Tablet(Person):
    """Answers a step, asks for the next panel, takes the answer back, again; after some rounds the next job."""

    fixed_count = len(PEOPLE["tablets"])
    seats = PEOPLE["tablets"]
    wait_time = between(0.3, 1.2)
    rounds_a_job = 10

    def on_start(self) -> None:
        super().on_start()
        self.jobs = list(self.seat["jobs"])
        self._next_job()

    def _next_job(self) -> None:
        job = self.jobs.pop() if len(self.jobs) > 1 else self.jobs[0]
        self.step = f"/bench/{job['ticket']}/run/{job['run']}/{STEP}/"
        self.version, self.rounds = job.setdefault("version", 1), 0
        self.job = job
        self.ask("step", self.step)

    @task
    def tick(self) -> None:
        if self.rounds >= 2 * self.rounds_a_job:
            self._next_job()
        act = "take-back" if self.rounds % 2 else "answer"
        made = str(uuid.uuid4())
        sent = {"version": str(self.version), "client_id": made, "note": ""}
        sent |= {"outcome": "done", "reading-rest_travel": "70 mm"} if act == "answer" else {}
        answer = self.ask("tick", f"{self.step}{act}/", sent, htmx=True)
        if answer is None:
            return
        said = json.loads(answer.text)
        KEPT["ticked"].append(made)
        self.version = self.job["version"] = said["version"]
        self.rounds += 1
        self.ask("next step", said["next"], htmx=True)


class Desk(Person):
    """Searches while typing, looks at the day, and books one of its units in."""

    fixed_count = len(PEOPLE["desks"])
    seats = PEOPLE["desks"]
    wait_time = constant(0.5)

    @task
    def serve_somebody(self) -> None:
        from gevent import sleep

        typed = self.chance.choice(TYPED)
        for letters in range(2, len(typed), 2):
            self.ask("search", "/counter/search/?" + urlencode({"q": typed[:letters]}), htmx=True)
            sleep(PAUSE_TYPING_S)
        self.ask("day", "/counter/")
        if self.seat["units"]:
            self._book(self.seat["units"].pop())

    def _book(self, unit: int) -> None:
        made = str(uuid.uuid4())
        self.ask("booking page", f"/counter/book-in/?unit={unit}")
        sent = {
            "customer": str(self.seat["customer"]), "unit": str(unit), "bike": "none", "client_id": made,
            "ticket-promised_on": self.seat["promised_on"], "ticket-complaint_words": "It creaks under load (demo).",
        }  # fmt: skip
        if self.ask("book", "/counter/book-in/", sent) is not None:
            KEPT["booked"].append(made)
