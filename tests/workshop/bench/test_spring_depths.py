"""Each new rest depth moves the spring's answer: after bleeding, freeing, at the maximum, after the proof."""

from __future__ import annotations

import re

import pytest
from django.test import Client
from django.urls import reverse

from diagnosis.models import Reading, Tick
from diagnosis.runs_state import state_of
from specs.models import SpecValue
from tests.flagship import send, sent_text, the_run, through_to_the_proof
from tests.squeezed import squeezed
from tests.sucked_down import sucked_down_ticket
from workshop.staff.models import User
from workshop.tickets.models import Ticket

pytestmark = pytest.mark.django_db
NO_WAIT = {"reason-wait-not-kept": "Nobody waits here"}


@pytest.fixture
def bench(client: Client) -> Client:
    """The mechanic of the sucked-down fork at the tablet."""
    sucked_down_ticket()
    client.force_login(User.objects.get(username="mechanic"))
    return client


def page(client: Client) -> str:
    return squeezed(client.get(reverse("bench:spring", args=[1])).content.decode())


def step_page(client: Client, key: str) -> str:
    return squeezed(client.get(reverse("bench:step", args=[1, the_run().pk, key])).content.decode())


def test_what_hangs_is_assumed_by_what_is_mounted_and_said_in_a_short_line(bench: Client) -> None:
    arrival = step_page(bench, "record-arrival")
    assert "2.9 kg hangs on it (wheel, lowers, brake), assumed; friction 20 N, assumed" in arrival
    text = page(bench)
    assert "Hanging on it: wheel 2 kg, lowers 0.75 kg, brake 0.15 kg, head angle 65°, 26 N along the fork." in text
    assert "What was not weighed is assumed (common practice, no published source)." in text


def test_without_a_bike_neither_wheel_nor_brake_hangs_on_it(bench: Client) -> None:
    Ticket.objects.update(bike=None)
    assert "Hanging on it: lowers 0.75 kg, hung straight down, 7 N along the fork." in page(bench)


def test_a_weighed_wheel_moves_the_answer_and_is_asked_for_once(bench: Client) -> None:
    before = page(bench)
    send(bench, "record-arrival", "done", rest_travel="66 mm", wheel_mass="3.6 kg", head_angle="63.5")
    text = page(bench)
    assert "wheel 3.6 kg weighed, lowers 0.75 kg, brake 0.15 kg, head angle 63.5°, 39 N along the fork" in text
    moved = [re.search(r"Air moved to the negative side</th> ?<td>(\d+) %", one) for one in (before, text)]
    assert [found and found[1] for found in moved] == ["28", "29"]


def test_wheel_out_is_known_from_the_ticks_before_the_depth_was_read(bench: Client) -> None:
    for key in ("inspect-wipers", "free-the-wipers", "bleed-legs"):
        send(bench, key, "ruled_out")
    send(bench, "wheel-out", "done")
    assert "Hanging on it: wheel" in page(bench)  # the arrival depth was read with the wheel in
    send(bench, "free-port-by-hand", "cant_tell", rest_now="68 mm", rest_pressure="77 psi")
    text = page(bench)
    assert "Hanging on it: lowers 0.75 kg, brake 0.15 kg" in text
    assert "Hanging on it: wheel" not in text


def test_a_new_depth_moves_the_answer_and_says_what_was_wrong_and_what_is_left(bench: Client) -> None:
    run = the_run()
    Tick.objects.filter(run=run, step__key="pressure-and-cycle").delete()  # no air went in since it came
    send(bench, "inspect-wipers", "ruled_out")
    send(bench, "free-the-wipers", "ruled_out", rest_now="60 mm")
    text = page(bench)
    assert "Stuck down: it rests 60 mm in." in text
    assert "What was wrong: it rested 66 mm in, 28 % of its air on the negative side." in text
    left = re.search(
        r"left after “Oil the wipers and cycle”: it rests 60 mm in, 6 mm less than it came in, (\d+) %", text
    )
    assert left is not None
    assert 20 < int(left[1]) < 28
    assert "Rest depths read: 66 mm as it came in, 60 mm after “Oil the wipers and cycle”." in text
    assert "Stuck down: it rests 60 mm in." in step_page(bench, "inspect-stanchions")


def test_a_depth_after_air_went_in_waits_for_its_pressure(bench: Client) -> None:
    send(bench, "inspect-wipers", "ruled_out")
    send(bench, "free-the-wipers", "ruled_out", rest_now="60 mm")
    text = page(bench)
    assert "It rests 60 mm in since “Oil the wipers and cycle”. Its pressure is not known any more" in text
    send(bench, "free-the-wipers", "ruled_out", rest_now="60 mm", rest_pressure="80 psi")
    assert "Stuck down: it rests 60 mm in." in page(bench)


def test_the_pressure_set_and_read_once_serves_the_depths_after_it(bench: Client) -> None:
    send(bench, "pressure-and-cycle", "ruled_out", **NO_WAIT, rest_now="64 mm", rest_pressure="80 psi")
    assert "Stuck down: it rests 64 mm in." in page(bench)
    send(bench, "inspect-wipers", "ruled_out")
    send(bench, "free-the-wipers", "ruled_out", rest_now="60 mm")
    assert "Stuck down: it rests 60 mm in." in page(bench)


def test_what_was_freed_is_no_longer_predicted_to_be_stuck(bench: Client) -> None:
    assert "will not free it" in step_page(bench, "free-port-at-maximum")
    send(bench, "pressure-and-cycle", "ruled_out", **NO_WAIT, rest_now="2 mm", rest_pressure="80 psi")
    assert "Healthy: it rests 2 mm in" in step_page(bench, "free-port-at-maximum")
    assert "One person can free it" not in step_page(bench, "free-port-at-maximum")


def test_friction_measured_by_a_push_and_a_pull_takes_the_place_of_the_assumed_one(bench: Client) -> None:
    send(bench, "record-arrival", "done", rest_travel="66 mm", rest_pushed="68 mm", rest_pulled="64.5 mm")
    found = re.search(r"Friction (\d+) N \((\d+) to (\d+) N\), measured by a push and a pull\.", page(bench))
    assert found is not None
    low, mid, high = (int(found[place]) for place in (2, 1, 3))
    assert low < mid < high
    assert mid != 20
    assert f"friction {mid} N, measured" in step_page(bench, "record-arrival")


def test_swapped_friction_readings_are_named_at_their_field_and_nothing_is_lost(bench: Client) -> None:
    sent = {"rest_travel": "66 mm", "rest_pushed": "62 mm", "rest_pulled": "68 mm", "wheel_mass": "1.9 kg"}
    text = sent_text(bench, "record-arrival", "done", refused=True, **sent)
    assert re.search(r'id="step-reading-rest_pushed_error".{0,400}cannot rest shallower.{0,80}swapped\?', text)
    assert all(f'value="{typed.split()[0]}"' in text for typed in sent.values())  # units stand beside the fields
    assert not Reading.objects.filter(key="rest_pushed").exists()


def test_after_the_proof_it_says_healthy_with_the_numbers(bench: Client) -> None:
    through_to_the_proof(bench)
    text = page(bench)
    assert "Healthy: it rests 2 mm in, where a healthy one of this kind does." in text
    assert "Look for the cause elsewhere" not in text
    assert "What was wrong: it rested 66 mm in, 28 % of its air on the negative side." in text
    assert "nothing, it rests 2 mm in as a healthy one does" in text
    state = state_of(the_run())
    assert state.by_key["prove-rest"].outcome == "proved"


@pytest.mark.parametrize(
    ("key", "typed", "field", "said"),
    [
        ("record-arrival", {"rest_travel": "170 mm"}, "rest_travel", "more than this fork’s travel of 160 mm"),
        ("record-arrival", {"rest_travel": "66 mm", "wheel_mass": "1900"}, "wheel_mass", "Was 1.9 kg meant"),
        ("record-arrival", {"rest_travel": "66 mm", "wheel_mass": "0.1 kg"}, "wheel_mass", "from 0.5 kg to 6 kg"),
        ("record-arrival", {"rest_travel": "66 mm", "head_angle": "25"}, "head_angle", "from 55° to 90°"),
        (
            "record-arrival",
            {"rest_travel": "66 mm", "head_angle": "25"},
            "head_angle",
            "from the upright? Then it is 65°",
        ),
        ("arrival-pressure", {"pump_pressure": "150 psi"}, "pump_pressure", "gauge read in another unit"),
    ],
)
def test_what_cannot_be_is_named_at_its_field_with_the_likely_slip(
    bench: Client, key: str, typed: dict[str, str], field: str, said: str
) -> None:
    if key == "arrival-pressure":
        send(bench, "record-arrival", "done", rest_travel="155 mm")
    text = sent_text(bench, key, "done", refused=True, **typed)
    error = re.search(rf'id="step-reading-{field}_error">(.*?)</div>', text)
    assert error is not None
    assert said in error[1]
    numbers = (re.sub(" (mm|psi|kg)$", "", value) for value in typed.values())  # units that stand beside their fields
    assert all(f'value="{number}"' in text for number in numbers)  # nothing typed is lost


def test_readings_that_contradict_each_other_are_taken_with_a_reason(bench: Client) -> None:
    SpecValue.objects.filter(quantity="seal_friction").update(magnitude_si=3.0)
    Ticket.objects.update(bike=None)
    send(bench, "record-arrival", "done", rest_travel="0 mm")
    text = sent_text(bench, "arrival-pressure", "done", refused=True, pump_pressure="76 psi")
    assert "cycle it past the port, then read again." in text.lower()
    assert "say why it is so all the same" in text
    send(bench, "arrival-pressure", "done", **{"pump_pressure": "76 psi", "reason-pump_pressure": "As it came, twice"})
    assert Reading.objects.filter(key="pump_pressure").last().reason == ""  # type: ignore[union-attr]


def test_a_pull_above_what_its_air_can_need_is_named_at_its_field(bench: Client) -> None:
    for key in ("inspect-wipers", "free-the-wipers", "bleed-legs"):
        send(bench, key, "ruled_out")
    send(bench, "wheel-out", "done")
    text = sent_text(bench, "free-port-by-hand", "cant_tell", refused=True, pull_used="1400 N", rest_now="64 mm")
    error = re.search(r'id="step-reading-pull_used_error">(.*?)</div>', text)
    assert error is not None
    assert re.search(r"1400 N is more than the air in this fork can need, 8\d0 N at the most\.", error[1])
    assert 'value="64"' in text  # nothing typed is lost
    send(bench, "free-port-by-hand", "cant_tell", pull_used="700 N")
