"""The chance that a complaint wants a part: each cause and each place it is found, counted out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import pytest

from diagnosis.part_chances import weights_by_role


@dataclass(frozen=True)
class Step:
    key: str
    ends_search: Mapping[str, float] = field(default_factory=dict)
    answers: Mapping[str, Any] = field(default_factory=dict)


def found(*roles: str, repair: tuple[str, ...] = ()) -> dict[str, Any]:
    return {"found": {"parts": [{"role": role, "quantity": 1} for role in roles], "repair": list(repair)}}


def test_a_cause_brings_the_parts_of_where_it_is_found() -> None:
    steps = [
        Step("look", {"seal": 0.9}, found("air_spring_seals")),
        Step("wipe", {"dirt": 0.5}, found()),
    ]
    assert weights_by_role({"seal": 3, "dirt": 1}, steps) == {"air_spring_seals": 3}


def test_a_cause_found_here_or_there_brings_each_in_proportion() -> None:
    steps = [
        Step("outside", {"seal": 0.6}, found()),
        Step("inside", {"seal": 0.2, "bore": 0.7}, found("air_spring_seals", "grease")),
    ]
    by_hand = {"seal": 4 * 0.2 / (0.6 + 0.2), "bore": 2 * 0.7 / 0.7}
    weights = weights_by_role({"seal": 4, "bore": 2}, steps)
    assert weights == {role: pytest.approx(sum(by_hand.values())) for role in ("air_spring_seals", "grease")}


def test_the_work_that_a_finding_names_brings_its_parts_too_and_a_role_counts_once() -> None:
    fit = Step("fit", answers={"done": {"parts": [{"role": "wiper", "quantity": 2}]}})
    steps = [Step("look", {"torn": 0.9}, found("wiper", repair=("fit", "not-in-this-list"))), fit]
    assert weights_by_role({"torn": 2}, steps) == {"wiper": 2}


def test_a_cause_that_no_check_settles_brings_nothing() -> None:
    assert weights_by_role({"unseen": 5}, [Step("look", {"other": 0.5}, found("wiper"))]) == {}
