"""Whole jobs in the browser by a mechanic who never follows what is suggested, from the first step to ready.

Ready is refused with the true reasons as long as they hold; once what it names is made good, it is given. Those who
follow the suggestions only are in test_every_complaint.py.
"""

from __future__ import annotations

import random
import re
from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse
from playwright.sync_api import Page, expect

from diagnosis.models import Tick
from tests.browser.obstinate import Obstinate
from tests.browser.test_every_complaint import OPTIONAL, READ, SHORT, Walk, booked_in, finish
from tests.squeezed import squeezed
from workshop.models import Ticket, User
from workshop.work.proof import missing_proof_of

SignIn = Callable[[Page, User], None]
TAPS = 16
STUCK, LEAKING, CREAKING, SHOCK = "sits-low", "oil-at-seals", "knocks-or-play", "shock-loses-air"
# A fork and a shock; that the rules lead to ready on all four is held without a browser, by the namesake of this file
# in tests/checklists.
ALWAYS = (STUCK, SHOCK)
JOBS = [
    pytest.param(walk, marks=() if walk.checklist in ALWAYS else pytest.mark.long, id=walk.checklist)
    for walk in SHORT
    if walk.checklist in (STUCK, LEAKING, CREAKING, SHOCK)
]


@pytest.mark.any_database
@pytest.mark.parametrize("walk", JOBS)
def test_whatever_he_presses_ready_says_what_is_missing_and_is_reached_by_it(
    walk: Walk, tablet: Page, sign_in: SignIn, people: dict[str, User], client: Client, allowed_problems: list[str]
) -> None:
    allowed_problems += ["status of 409", "status of 422", "status of 424"]
    mechanic = people["mechanic"]
    ticket = booked_in(walk, mechanic)
    sign_in(tablet, mechanic)
    tablet.goto(f"/bench/{ticket.number}/")
    tablet.get_by_role("button", name="Start work").tap()
    tablet.get_by_role("button", name=re.compile("^Start “")).first.tap()
    tablet.wait_for_url(re.compile("/run/"))
    he = Obstinate(tablet, ticket, READ, frozenset(OPTIONAL), random.Random(f"obstinate {walk.checklist}"))
    for tap in range(3 * TAPS):
        if tap >= TAPS and he.was_refused:
            break
        he.press_anything()
    he.drop_refused()
    assert_refused_with_the_reason(tablet, ticket, client, mechanic)
    he.close_what_ready_names()
    tablet.goto(f"/bench/{ticket.number}/")
    finish(tablet, ticket, allowed_problems)
    assert Ticket.objects.get(pk=ticket.pk).state == Ticket.State.READY
    assert missing_proof_of(ticket) == []
    assert he.was_refused, he.did
    assert any(what.endswith("taken") for what in he.did), he.did
    assert Tick.objects.filter(step__kind="proof", outcome="proved").exists()


def assert_refused_with_the_reason(page: Page, ticket: Ticket, client: Client, mechanic: User) -> None:
    """The page names all that is missing and has no button for it; sent all the same it is refused, and says why."""
    missing = missing_proof_of(ticket)
    assert missing
    page.goto(f"/bench/{ticket.number}/")
    leaving = page.locator("#leaving")
    expect(leaving.get_by_role("button", name="Work done: it is ready")).to_have_count(0)
    text = " ".join((leaving.text_content() or "").split())
    for one in missing:
        assert one.words in text
    client.force_login(mechanic)
    version = Ticket.objects.get(pk=ticket.pk).version
    answer = client.post(reverse("bench:finish", args=[ticket.number]), {"version": version, "reason": ""})
    first = next((one for one in missing if one.is_danger), missing[0])
    if "Which parts were used?" not in answer.text:
        assert first.words in squeezed(answer.text).partition("Not ready")[2]
    assert answer.status_code == 422
    assert Ticket.objects.get(pk=ticket.pk).state == Ticket.State.ON_THE_BENCH
