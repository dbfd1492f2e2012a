"""What customers' words sound like, against the symptoms of the shipped checklists."""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnosis.symptoms import Described, sounds_like, stems
from tests.shipped import shipped_folder

FOLDER = Path(__file__).parents[2] / "fixtures" / "checklists"
SHIPPED = [
    Described(plan.complaint.key, plan.complaint.title, plan.complaint.symptoms)
    for plan in shipped_folder().checklists
    if "fork" in plan.complaint.suits
]


@pytest.mark.parametrize(
    ("words", "first"),
    [
        ("It's sucked down, won't come up", "sits-low"),
        ("Goes soft overnight", "loses-air"),
        ("leaking OIL on the left leg", "oil-at-seals"),
        ("service please, it is due", "routine-lowers"),
        ("clunks when braking", "knocks-or-play"),
        ("knocking noise at the front", "knocks-or-play"),
        ("rebound dial does nothing", "no-rebound-control"),
        ("tops out with a bang", "tops-out"),
        ("can't get the last 3 cm of travel", "not-full-travel"),
        ("it dives and stays down", "sits-low"),
        ("bottoms out on small drops", "bottoms-out"),
        ("had a crash last week", "after-a-crash"),
        ("the lockout doesn't lock any more", "lockout-fails"),
        ("creaking when turning the bars", "steering-creaks"),
        ("full service please", "routine-full"),
        ("my hands hurt on long descents", "harsh-or-sticky"),
    ],
)
def test_usual_words_lead_to_the_complaint(words: str, first: str) -> None:
    assert sounds_like(words, SHIPPED)[0].key == first


def test_words_of_two_complaints_suggest_both() -> None:
    assert {one.key for one in sounds_like("dives and feels wooden", SHIPPED)} == {"harsh-or-sticky", "bottoms-out"}


@pytest.mark.parametrize(
    ("words", "both"),
    [
        ("dives and leaks oil", {"bottoms-out", "oil-at-seals"}),
        ("It leaks oil. It also dives!", {"bottoms-out", "oil-at-seals"}),
        ("knocks when braking, loses air", {"knocks-or-play", "loses-air"}),
        ("harsh and will not use full travel", {"harsh-or-sticky", "not-full-travel"}),
        ("rebound knob does nothing and it leaks oil", {"no-rebound-control", "oil-at-seals"}),
    ],
)
def test_two_faults_in_one_sentence_suggest_both_however_loud_the_one(words: str, both: set[str]) -> None:
    assert {one.key for one in sounds_like(words, SHIPPED)} == both


def test_one_fault_in_two_parts_stays_one() -> None:
    assert [one.key for one in sounds_like("it is sucked down and will not come up", SHIPPED)] == ["sits-low"]


def test_it_says_which_symptom_it_heard() -> None:
    assert sounds_like("soft overnight again", SHIPPED)[0].symptom == "it goes soft overnight"


@pytest.mark.parametrize("words", ["", "hello", "it is a fork and it does this", "KNOCKT beim Bremsen", "...", "42"])
def test_words_that_say_too_little_suggest_nothing(words: str) -> None:
    assert sounds_like(words, SHIPPED) == []


def test_every_symptom_of_a_checklist_leads_to_its_own_complaint() -> None:
    missed = [
        (entry.key, text)
        for entry in SHIPPED
        for text in entry.symptoms
        if entry.key not in {one.key for one in sounds_like(text, SHIPPED)}
    ]
    assert missed == []


def test_words_are_folded_and_their_endings_cut() -> None:
    assert stems("It KNOCKS, when knocking! Knocked") == {"knock"}
    assert stems("Wóoden") == stems("wooden")
    assert stems("creaky creaks") == {"creak"}


def test_no_complaints_no_suggestion() -> None:
    assert sounds_like("it leaks oil", []) == []
