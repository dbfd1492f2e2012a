"""One step at a time: what it shows, its answer, readings, timer and photos."""

from __future__ import annotations

import re
import uuid
from datetime import timedelta
from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from PIL import Image

from diagnosis.models import Checklist, Reading, Run, StepTimer, Tick
from tests.bench_runs import ARRIVED, HTMX, answered, arrived, form_of, url
from tests.factories import (
    SpecValueFactory,
    TicketFactory,
)
from tests.known import known
from tests.squeezed import squeezed
from workshop.models import Photo, Shop, Ticket

pytestmark = pytest.mark.django_db


def test_it_shows_what_to_do_and_this_forks_values(bench: Client, ticket: Ticket, run: Run) -> None:
    SpecValueFactory(model=ticket.unit.model, quantity="max_pressure")
    text = bench.get(url("step", ticket, run.pk, "arrival-pressure")).text
    assert "Read the gauge at once" in text
    assert "caution__list" in text
    assert re.search(r'spec__value">120 <span class="spec__unit">psi', text)
    assert "not checked against the manual" in text


def test_a_step_is_never_a_later_one_than_there_are(bench: Client, ticket: Ticket, run: Run) -> None:
    """Repairs that nothing asks for so far are listed with a place of their own, so the last has the number of all."""
    text = squeezed(bench.get(url("step", ticket, run.pk, "arrival-pressure")).text)
    listed = re.findall(r'href="([^"]*)"[^>]*><span class="step__place">(\d+)<', text)
    places = {int(place): address for address, place in listed}
    assert sorted(places) == list(range(1, len(listed) + 1))
    shown = re.search(r">(?:Check|Work|Proof) (\d+) of (\d+)<", squeezed(bench.get(places[len(listed)]).text))
    assert [int(number) for number in known(shown).groups()] == [len(listed)] * 2


def test_a_value_nobody_knows_is_a_blank(bench: Client, ticket: Ticket, run: Run) -> None:
    assert "see the maker’s manual" in bench.get(url("step", ticket, run.pk, "arrival-pressure")).text


def test_lines_for_another_kind_of_fork_are_not_shown(bench: Client, ticket: Ticket, run: Run) -> None:
    text = bench.get(url("step", ticket, run.pk, "foot-fasteners-on")).text
    assert "Start both foot bolts" in text
    assert "Start both foot nuts" not in text


def test_an_answer_leads_to_the_next_step(bench: Client, ticket: Ticket, run: Run) -> None:
    form = form_of(run, "done", **{"reading-rest_travel": "28"})
    answer = bench.post(url("answer", ticket, run.pk, "record-arrival"), form, follow=True)
    assert answer.redirect_chain[-1][0] == url("step", ticket, run.pk, "arrival-pressure")
    assert Reading.objects.get().typed == "28 mm"


def test_with_htmx_it_is_said_to_be_saved_and_the_next_step_comes_in_place(
    bench: Client, ticket: Ticket, run: Run
) -> None:
    form = form_of(run, "done", **{"reading-rest_travel": "28"})
    saved = bench.post(url("answer", ticket, run.pk, "record-arrival"), form, **HTMX).json()
    assert saved == {"saved": True, "version": 2, "next": url("run", ticket, run.pk)}
    answer = bench.get(saved["next"], **HTMX)
    assert answer["HX-Push-Url"] == url("step", ticket, run.pk, "arrival-pressure")
    assert 'id="work"' in answer.text
    assert "<html" not in answer.text


def test_the_same_answer_sent_again_is_harmless(bench: Client, ticket: Ticket, run: Run) -> None:
    form = form_of(run, "done", **{"reading-rest_travel": "28"})
    for _ in range(2):
        assert bench.post(url("answer", ticket, run.pk, "record-arrival"), form).status_code == 302
    assert Tick.objects.count() == Reading.objects.count() == 1


def test_a_tick_asks_the_database_for_no_more_than_its_rows(bench: Client, ticket: Ticket, run: Run) -> None:
    """Session, person, place, other runs of the job, ticks, the claim and the tick; one transaction.

    PostgreSQL locks the runs of the job first; SQLite has one writer at a time anyway.
    """
    arrived(run)
    Checklist.objects.update(made_at=run.started_at - timedelta(days=1))
    answered(run, "clean-outside", "done")
    form = form_of(run, "ruled_out", note="Both legs looked at")
    with CaptureQueriesContext(connection) as captured:
        assert bench.post(url("answer", ticket, run.pk, "inspect-stanchions"), form, **HTMX).json()["saved"]
    asked = [entry["sql"].split()[0] for entry in captured if "SAVEPOINT" not in entry["sql"]]
    looks = 6 if connection.features.has_select_for_update else 5
    assert asked == ["SELECT"] * looks + ["UPDATE", "INSERT"]


@pytest.mark.parametrize("broken", [{"version": "none"}, {"client_id": "7"}, {"note": "x" * 2001}, {"waited": "-1"}])
def test_an_answer_that_cannot_be_read_is_not_stored(
    bench: Client, ticket: Ticket, run: Run, broken: dict[str, str]
) -> None:
    form = form_of(run, "left_out") | broken
    assert bench.post(url("answer", ticket, run.pk, "record-arrival"), form, **HTMX).status_code == 422
    assert not Tick.objects.exists()


def test_a_bad_reading_is_refused_beside_its_field_and_kept(bench: Client, ticket: Ticket, run: Run) -> None:
    form = form_of(run, "done", **{"reading-rest_travel": "28 psi", "note": "Left leg is dry"})
    answer = bench.post(url("answer", ticket, run.pk, "record-arrival"), form, **HTMX)
    assert answer.status_code == 422
    assert "not a unit of length" in answer.text
    assert 'value="28 psi"' in answer.text
    assert "Left leg is dry" in answer.text
    assert not Tick.objects.exists()


def test_a_missing_reading_is_asked_for(bench: Client, ticket: Ticket, run: Run) -> None:
    answer = bench.post(url("answer", ticket, run.pk, "record-arrival"), form_of(run, "done"))
    assert answer.status_code == 422
    assert "cannot be answered without it" in answer.text


def test_a_step_that_has_to_wait_says_for_what(bench: Client, ticket: Ticket, run: Run) -> None:
    answer = bench.post(url("answer", ticket, run.pk, "inspect-wipers"), form_of(run, "found"))
    assert answer.status_code == 422
    assert "has to wait. First do “Clean stanchions, wipers and lowers”" in answer.text


def test_a_pressure_above_the_maximum_is_refused_until_it_is_meant(bench: Client, ticket: Ticket, run: Run) -> None:
    SpecValueFactory(model=ticket.unit.model, quantity="max_pressure")
    answered(run, "record-arrival", "done", ARRIVED["record-arrival"])
    address = url("answer", ticket, run.pk, "arrival-pressure")
    refused = bench.post(address, form_of(run, "done", **{"reading-pump_pressure": "130"}))
    assert refused.status_code == 422
    assert "maximum of this fork, 120 psi" in refused.text
    assert 'name="above_maximum"' in refused.text
    meant = form_of(run, "done", above_maximum="on", **{"reading-pump_pressure": "130"})
    assert bench.post(address, meant).status_code == 302


def test_taking_back_opens_the_step_again(bench: Client, ticket: Ticket, run: Run) -> None:
    answered(run, "record-arrival", "done", ARRIVED["record-arrival"])
    form = {"version": 2, "client_id": str(uuid.uuid4())}
    saved = bench.post(url("take_back", ticket, run.pk, "record-arrival"), form, **HTMX).json()
    assert saved["version"] == 3
    assert known(Tick.objects.last()).outcome == "taken_back"
    answer = bench.get(saved["next"], **HTMX)
    assert answer["HX-Push-Url"] == url("step", ticket, run.pk, "record-arrival")
    assert 'value="28"' in answer.text


def test_a_finding_puts_its_parts_on_the_ticket_and_taking_it_back_drops_them(
    bench: Client, ticket: Ticket, run: Run
) -> None:
    arrived(run)
    answered(run, "clean-outside", "done")
    answer = bench.post(url("answer", ticket, run.pk, "inspect-stanchions"), form_of(run, "found"), follow=True)
    assert "Call " in answer.text
    line = ticket.part_lines.get()
    assert (line.words, line.source, line.status) == ("Upper assembly", "finding", "needed")
    form = {"version": Run.objects.get(pk=run.pk).version, "client_id": str(uuid.uuid4())}
    bench.post(url("take_back", ticket, run.pk, "inspect-stanchions"), form)
    line.refresh_from_db()
    assert line.status == "dropped"


def test_a_timer_survives_a_reload_and_can_be_stopped(bench: Client, ticket: Ticket, run: Run) -> None:
    bench.post(url("start_timer", ticket, run.pk, "prove-pressure"), {"client_id": str(uuid.uuid4())})
    timer = StepTimer.objects.get()
    page = bench.get(url("step", ticket, run.pk, "prove-pressure")).text
    assert f'data-ends="{round((timer.started_at.timestamp() + 1200) * 1000)}"' in page
    assert "data-timer" in bench.get(reverse("bench:board")).text
    bench.post(url("stop_timer", ticket, run.pk, "prove-pressure"), {"timer": str(timer.client_id)})
    assert StepTimer.objects.get().stopped_at is not None


def test_a_photo_is_kept_at_its_step(bench: Client, ticket: Ticket, run: Run) -> None:
    picture = BytesIO()
    Image.new("RGB", (40, 30), "grey").save(picture, "JPEG")
    file = SimpleUploadedFile("stanchion.jpg", picture.getvalue(), "image/jpeg")
    form = {"photo": file, "client_id": str(uuid.uuid4())}
    answer = bench.post(url("photo", ticket, run.pk, "record-arrival"), form, **HTMX)
    assert answer.status_code == 200
    assert known(Photo.objects.get().step).key == "record-arrival"


def test_a_file_that_is_no_photo_is_refused(bench: Client, ticket: Ticket, run: Run) -> None:
    form = {"photo": SimpleUploadedFile("notes.txt", b"hello", "text/plain")}
    answer = bench.post(url("photo", ticket, run.pk, "record-arrival"), form, **HTMX)
    assert answer.status_code == 422
    assert not Photo.objects.exists()


def test_a_run_of_another_ticket_is_not_found(bench: Client, ticket: Ticket, run: Run, shop: Shop) -> None:
    other = TicketFactory(shop=shop)
    assert bench.get(url("step", other, run.pk, "record-arrival")).status_code == 404
    assert bench.get(url("step", ticket, run.pk, "no-such-step")).status_code == 404


def test_a_ticket_that_left_the_bench_is_only_read(bench: Client, ticket: Ticket, run: Run) -> None:
    Ticket.objects.filter(pk=ticket.pk).update(state="booked_in")
    answer = bench.post(url("answer", ticket, run.pk, "record-arrival"), form_of(run, "left_out"))
    assert answer.status_code == 422
    assert not Tick.objects.exists()


def test_a_step_takes_the_same_number_of_queries_early_and_late(bench: Client, ticket: Ticket, run: Run) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as captured:
            bench.get(url("step", ticket, run.pk, "clean-outside"))
        return len(captured)

    bench.get(url("step", ticket, run.pk, "clean-outside"))
    answered(run, "record-arrival", "done", ARRIVED["record-arrival"])
    early = queries()
    arrived(run)
    answered(run, "clean-outside", "done")
    answered(run, "inspect-stanchions", "ruled_out")
    assert queries() == early


def test_an_expired_session_answers_401_and_not_with_a_sign_in_page(client: Client, ticket: Ticket, run: Run) -> None:
    answer = client.post(url("answer", ticket, run.pk, "record-arrival"), form_of(run, "left_out"), **HTMX)
    assert answer.status_code == 401


def test_a_danger_stands_in_full_before_what_to_do_with_its_word(bench: Client, ticket: Ticket, run: Run) -> None:
    arrived(run)
    text = bench.get(url("step", ticket, run.pk, "all-air-out")).text
    danger, do, warning = text.index('signal--danger">Danger'), text.index(">Do<"), text.index("Never put your face")
    assert danger < do < text.index("the other chamber pulls") < warning
    assert text.index("is still loaded and stays closed") < do
    assert "Safety glasses" in text[do:]


def test_the_usual_cautions_are_in_full_once_a_job_and_then_a_line(bench: Client, ticket: Ticket, run: Run) -> None:
    words = "It must not swing or tip"
    assert words in bench.get(url("step", ticket, run.pk, "record-arrival")).text
    arrived(run)
    later = bench.get(url("step", ticket, run.pk, "wheel-out")).text
    assert words not in later
    assert "Hold the bike steady" in later
    assert words in bench.get(url("step", ticket, run.pk, "record-arrival")).text  # where it was first it stays


def test_still_pulling_is_offered_where_air_is_let_out_only(bench: Client, ticket: Ticket, run: Run) -> None:
    arrived(run)
    assert "Still pulling: stop</" in bench.get(url("step", ticket, run.pk, "all-air-out")).text.replace("\n", "")
    assert 'value="still_pulling"' not in bench.get(url("step", ticket, run.pk, "wheel-out")).text
    refused = bench.post(url("answer", ticket, run.pk, "wheel-out"), form_of(run, "still_pulling"), **HTMX)
    assert refused.status_code == 422
    assert not Tick.objects.filter(run=run, outcome="still_pulling").exists()


def test_still_pulling_leads_to_the_way_on_and_holds_back_what_opens(bench: Client, ticket: Ticket, run: Run) -> None:
    arrived(run)
    for key in ("wheel-out", "caliper-off"):
        bench.post(url("answer", ticket, run.pk, key), form_of(run, "done"), **HTMX)
    bench.post(url("answer", ticket, run.pk, "all-air-out"), form_of(run, "still_pulling"), **HTMX)
    page = bench.get(url("run", ticket, run.pk), follow=True).text
    assert "The way on from a loaded chamber" in page
    assert "Loosen nothing" in page
    refused = bench.post(url("answer", ticket, run.pk, "foot-fasteners-off"), form_of(run, "done"), **HTMX)
    assert refused.status_code == 422
