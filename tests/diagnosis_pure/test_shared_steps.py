"""Steps that two runs on one unit share: what an answer in one means for the other.

What comes apart and goes together is common practice, no published source.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from diagnosis.shared_steps import (
    CountedTick,
    Side,
    carried_over,
    counts_in,
    done_but_asked_again,
    due_anyway,
    go_on_with,
    repeated,
    shared_keys,
    waits_for,
)
from tests.shipped import shipped_folder


@dataclass
class AStep:
    key: str
    kind: str = "work"
    needs: tuple[str, ...] = ()
    ends_search: Mapping[str, float] = field(default_factory=dict)
    do: tuple[Any, ...] = ("Do it.",)
    minutes: float = 5.0
    safety: bool = False
    only_if: Mapping[str, Any] = field(default_factory=dict)
    answers: Mapping[str, Any] = field(default_factory=dict)
    bolts: tuple[str, ...] = ()
    look_for: tuple[str, ...] = ()
    counts_as_found: str = ""
    readings: tuple[Any, ...] = ()
    timer: Any = None
    requires: Mapping[str, Any] = field(default_factory=dict)
    opens: tuple[str, ...] = ()
    proves: tuple[str, ...] = ()
    closed_by: str = ""
    frees_port: str = ""
    title: str = ""

    def __post_init__(self) -> None:
        self.title = self.key.replace("-", " ").capitalize()


ARRIVE = AStep("record-arrival", safety=True)
OFF = AStep("lowers-off", needs=("record-arrival",), closed_by="lowers-on")
BUSHINGS = AStep("inspect-bushings", "check", ("lowers-off",), {"bushing": 0.9})
ON = AStep("lowers-on", needs=("lowers-off",))
BRAKES = AStep("prove-brakes", "proof", safety=True)


def leaks() -> list[AStep]:
    look = AStep("look-at-feet", "check", ("record-arrival",), {"foot-seal": 0.9})
    wiper = AStep("wiper-seat", "check", ("lowers-off",), {"wiper": 0.9})
    return [ARRIVE, look, OFF, wiper, BUSHINGS, ON, BRAKES, AStep("prove-dry", "proof")]


def dives() -> list[AStep]:
    pump = AStep("pump-and-cycle", "check", ("record-arrival",), {"port": 0.5})
    port = AStep("inspect-port", "check", ("lowers-off",), {"port": 0.9})
    return [ARRIVE, pump, OFF, port, BUSHINGS, ON, BRAKES, AStep("prove-rest", "proof")]


def side(steps: list[AStep], facts: Mapping[str, Any] | None = None, **answers: str) -> Side:
    return Side(steps, facts or {}, {key.replace("_", "-"): outcome for key, outcome in answers.items()})


OPENED: dict[str, Any] = {"record_arrival": "done", "lowers_off": "done"}


def test_steps_with_one_key_and_the_same_words_are_shared() -> None:
    shared = shared_keys(side(leaks()), side(dives()))
    assert shared == {"record-arrival", "lowers-off", "inspect-bushings", "lowers-on", "prove-brakes"}


def test_other_words_or_other_words_for_this_fork_are_not_shared() -> None:
    for_shocks = {"when": {"kind": "shock"}, "text": "Do it."}
    other = [AStep("lowers-off", do=("Pull.",), closed_by="lowers-on"), AStep("lowers-on", do=(for_shocks,))]
    assert shared_keys(side(other), side(leaks())) == set()
    assert shared_keys(side(other, {"kind": "shock"}), side(leaks(), {"kind": "shock"})) == {"lowers-on"}


def test_one_look_for_two_different_causes_is_two_questions() -> None:
    knocks = [*leaks()[:4], AStep("inspect-bushings", "check", ("lowers-off",), {"bushing-worn": 0.9})]
    assert "inspect-bushings" not in shared_keys(side(leaks()), side(knocks))
    looked = side(leaks(), **OPENED, inspect_bushings="ruled_out")
    assert done_but_asked_again(side(knocks), looked) == {"inspect-bushings"}
    assert done_but_asked_again(side(knocks, inspect_bushings="found"), looked) == set()


def test_what_was_done_in_one_run_counts_in_the_other() -> None:
    assert counts_in(side(dives()), side(leaks()), "lowers-off", "done") == [CountedTick("lowers-off", "done")]
    assert counts_in(side(dives()), side(leaks()), "look-at-feet", "found") == []


def test_a_finding_counts_where_the_same_cause_is_looked_for() -> None:
    assert counts_in(side(dives()), side(leaks()), "inspect-bushings", "found", "bushing") == [
        CountedTick("inspect-bushings", "found")
    ]


def test_a_finding_by_the_way_leaves_the_other_search_its_own_question() -> None:
    by_the_way = [*leaks()[:4], AStep("inspect-bushings", "check", ("lowers-off",))]
    assert counts_in(side(dives()), side(by_the_way), "inspect-bushings", "ruled_out") != []
    assert counts_in(side(dives()), side(by_the_way), "inspect-bushings", "found") == []
    assert counts_in(side(by_the_way), side(dives()), "inspect-bushings", "found", "bushing") != []


def test_what_one_run_puts_together_has_to_come_apart_again_for_the_other() -> None:
    assert counts_in(side(dives(), **OPENED), side(leaks(), **OPENED), "lowers-on", "done") == [
        CountedTick("lowers-off", "taken_back", "Put together again")
    ]


def test_what_was_taken_out_goes_back_with_its_safety_step_before_another_run_closes_it() -> None:
    spring = [
        AStep("air-spring-out", needs=("lowers-off",), closed_by="air-spring-in"),
        AStep("air-spring-in", needs=("air-spring-out",)),
        AStep("prove-circlip-seat", needs=("air-spring-in",), safety=True),
    ]
    low = [*dives()[:5], *spring, *dives()[5:]]
    out = {**OPENED, "pump_and_cycle": "ruled_out", "inspect_port": "found", "inspect_bushings": "ruled_out"}
    taken_out = side(low, **out, air_spring_out="done")
    assert taken_out.wants_open("lowers-off") == ["air-spring-in", "prove-circlip-seat"]
    assert counts_in(taken_out, side(leaks(), **OPENED), "lowers-on", "done") == [
        CountedTick("lowers-off", "taken_back", "Put together again")
    ]
    back = side(low, **out, air_spring_out="done", air_spring_in="done", prove_circlip_seat="done")
    assert counts_in(back, side(leaks(), **OPENED), "lowers-on", "done") == [CountedTick("lowers-on", "done")]


def test_what_no_run_wants_open_is_put_together_once() -> None:
    looked: dict[str, Any] = {"pump_and_cycle": "ruled_out", "inspect_port": "found", "inspect_bushings": "ruled_out"}
    assert counts_in(side(dives(), **OPENED, **looked), side(leaks(), **OPENED), "lowers-on", "done") == [
        CountedTick("lowers-on", "done")
    ]


def test_taken_apart_again_nothing_that_was_proved_holds() -> None:
    finished = side(leaks(), **OPENED, wiper_seat="found", lowers_on="done", prove_brakes="proved", prove_dry="proved")
    assert counts_in(finished, side(dives(), record_arrival="done"), "lowers-off", "done") == [
        CountedTick("lowers-off", "done"),
        CountedTick("lowers-on", "taken_back", "Taken apart again"),
        CountedTick("prove-brakes", "taken_back", "Taken apart again"),
        CountedTick("prove-dry", "taken_back", "Taken apart again"),
    ]


def test_a_corrected_reading_of_an_open_step_sets_nothing_aside() -> None:
    finished = side(leaks(), **OPENED, wiper_seat="found", lowers_on="done", prove_brakes="proved")
    assert counts_in(finished, finished, "lowers-off", "done") == [CountedTick("lowers-off", "done")]


def test_a_proof_counts_only_where_the_work_is_over() -> None:
    searching = side(dives(), record_arrival="done")
    assert counts_in(searching, side(leaks()), "prove-brakes", "proved") == []
    over = side(dives(), **OPENED, pump_and_cycle="found", lowers_on="done")
    assert counts_in(over, side(leaks()), "prove-brakes", "proved") == [CountedTick("prove-brakes", "proved")]


def test_a_failed_proof_leaves_the_other_run_its_cause_and_its_proof_open() -> None:
    proved = side(dives(), **OPENED, pump_and_cycle="found", prove_brakes="proved")
    assert counts_in(proved, side(leaks()), "prove-brakes", "not_proved") == [
        CountedTick("prove-brakes", "taken_back", "Not proved")
    ]


def test_a_safety_step_left_out_holds_back_in_both() -> None:
    assert counts_in(side(dives()), side(leaks()), "record-arrival", "left_out") == [
        CountedTick("record-arrival", "left_out")
    ]


def test_a_run_begun_later_takes_over_what_still_holds() -> None:
    assert carried_over(side(dives()), side(leaks(), **OPENED, inspect_bushings="ruled_out")) == [
        "record-arrival", "lowers-off", "inspect-bushings",
    ]  # fmt: skip


def test_a_run_begun_after_it_was_closed_takes_over_the_looks_but_not_the_strip_down_or_the_proof() -> None:
    finished = side(leaks(), **OPENED, inspect_bushings="ruled_out", lowers_on="done", prove_brakes="proved")
    assert carried_over(side(dives()), finished) == ["record-arrival", "inspect-bushings"]


def test_a_strip_down_that_one_run_is_bound_for_is_due_anyway() -> None:
    cure = {"found": {"cause": "foot-seal", "next": "lowers-on"}}
    bound = [ARRIVE, AStep("look-at-feet", "check", ("record-arrival",), {"foot-seal": 0.9}, answers=cure), OFF, ON]
    assert due_anyway(side(bound, record_arrival="done", look_at_feet="found")) == {"lowers-off"}
    assert due_anyway(side(bound, record_arrival="done")) == set()


def test_outside_checks_come_first_and_proof_comes_last() -> None:
    one, two = side(leaks(), record_arrival="done", look_at_feet="ruled_out"), side(dives(), record_arrival="done")
    assert go_on_with([one, two], ["lowers-off", "pump-and-cycle"], current=0) == 1
    assert go_on_with([one, two], ["prove-dry", "lowers-off"], current=0) == 1
    assert go_on_with([one, two], ["look-at-feet", "pump-and-cycle"], current=1) == 1
    assert go_on_with([one, two], [None, "prove-rest"], current=0) == 1
    assert go_on_with([one, two], [None, None]) is None


def test_nothing_is_closed_while_another_run_wants_it_open() -> None:
    one = side(leaks(), **OPENED, wiper_seat="found")
    two = side(dives(), **OPENED, pump_and_cycle="ruled_out")
    assert waits_for([one, two], 0, "lowers-on") == [(1, "inspect-port"), (1, "inspect-bushings")]
    assert go_on_with([one, two], ["lowers-on", "inspect-port"], current=0) == 1


def test_a_paper_prints_a_shared_step_once() -> None:
    first, second = repeated([side(leaks()), side(dives())])
    assert first == set()
    assert "lowers-off" in second
    assert "inspect-port" not in second


def test_what_the_shipped_checklists_take_apart_is_put_together_again() -> None:
    """Each pair that two runs on one unit know of, wherever the step that takes apart stands."""
    steps = [step for plan in shipped_folder().checklists for step in plan.steps]
    pairs = {(step.key, step.closed_by) for step in steps if step.closed_by}
    assert pairs == {
        ("wheel-out", "refit-brake-wheel"),
        ("caliper-off", "refit-brake-wheel"),
        ("all-air-out", "fill-in-stages"),
        ("foot-fasteners-off", "foot-fasteners-on"),
        ("lowers-off", "lowers-on"),
        ("air-spring-out", "air-spring-in"),
        ("shock-out-of-frame", "shock-refit"),
        ("shock-all-air-out", "shock-fill-in-stages"),
        ("shock-can-off", "shock-can-on"),
    }
    taking_apart = {opening for opening, _ in pairs}
    assert all(step.closed_by for step in steps if step.key in taking_apart)
