"""The Bench: the board, a ticket, one step at a time, what two tablets do to each other, and the way to ready."""

from __future__ import annotations

import re
import uuid
from io import BytesIO
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from PIL import Image

from diagnosis.models import Checklist, Reading, Run, StepTimer, Tick
from diagnosis.runs import TypedReadings, start_run, tick
from tests.factories import (
    PartLineFactory,
    SpecValueFactory,
    StockItemFactory,
    StockMovementFactory,
    TicketFactory,
    TicketRunFactory,
    UserFactory,
)
from tests.shipped import shipped_checklist
from workshop.models import Photo, Shop, Ticket, User
from workshop.stores.moving import level_of
from workshop.tickets.moves import ProofMissing, move

pytestmark = pytest.mark.django_db

HTMX = {"HTTP_HX_REQUEST": "true"}
ARRIVED = {
    "record-arrival": {"rest_travel": "28 mm"},
    "arrival-pressure": {"pump_pressure": "80 psi"},
    "record-clicks": {"rebound_clicks": "7"},
}


@pytest.fixture
def mechanic() -> User:
    return UserFactory(mechanic=True)


@pytest.fixture
def shop(mechanic: User) -> Shop:
    assert mechanic.shop is not None
    return mechanic.shop


@pytest.fixture
def bench(client: Client, mechanic: User) -> Client:
    client.force_login(mechanic)
    return client


@pytest.fixture
def ticket(shop: Shop, mechanic: User) -> Ticket:
    """A fork that sits low, on the mechanic's bench."""
    ticket = TicketFactory(shop=shop, state="on_the_bench", mechanic=mechanic)
    ticket.complaints.add(shipped_checklist("sits-low").complaint)
    return ticket


@pytest.fixture
def run(ticket: Ticket, mechanic: User) -> Run:
    checklist = Checklist.objects.get(key="sits-low", is_current=True)
    run = start_run(checklist=checklist, facts=ticket.unit.facts(), by=mechanic)
    TicketRunFactory(ticket=ticket, run=run)
    return run


def answered(run: Run, step_key: str, outcome: str, typed: dict[str, str] | None = None) -> None:
    fresh = Run.objects.get(pk=run.pk)
    tick(
        run=fresh, step_key=step_key, outcome=outcome, by=None, seen_version=fresh.version, client_id=uuid.uuid4(),
        readings=TypedReadings(typed or {}),
    )  # fmt: skip


def arrived(run: Run) -> None:
    for step_key, typed in ARRIVED.items():
        answered(run, step_key, "done", typed)


def url(name: str, ticket: Ticket, *more: Any) -> str:
    return reverse(f"bench:{name}", args=[ticket.number, *more])


def form_of(run: Run, outcome: str, **fields: str) -> dict[str, str]:
    version = Run.objects.get(pk=run.pk).version
    return {"version": str(version), "client_id": str(uuid.uuid4()), "outcome": outcome, "note": ""} | fields


class TestBoard:
    def test_my_tickets_the_next_by_promise_and_what_waits(self, bench: Client, shop: Shop, mechanic: User) -> None:
        TicketFactory(shop=shop, number=101, state="on_the_bench", mechanic=mechanic)
        TicketFactory(shop=shop, number=102)
        TicketFactory(shop=shop, number=103, waiting=True)
        context = bench.get(reverse("bench:board")).context
        assert [ticket.number for ticket in context["mine"].tickets] == [101]
        assert [ticket.number for ticket in context["next_to_take"].tickets] == [102]
        assert [ticket.number for ticket in context["waiting"].tickets] == [103]

    def test_another_shops_tickets_are_not_there(self, bench: Client) -> None:
        TicketFactory(number=104)
        assert bench.get(reverse("bench:board")).context["next_to_take"].tickets == []
        assert bench.get(reverse("bench:ticket", args=[104])).status_code == 404

    def test_a_thousand_tickets_take_as_many_queries_as_ten(self, bench: Client, shop: Shop, mechanic: User) -> None:
        def queries() -> int:
            with CaptureQueriesContext(connection) as captured:
                assert bench.get(reverse("bench:board")).status_code == 200
            return len(captured)

        first = TicketFactory(shop=shop)
        many = [
            Ticket(
                shop=shop, number=1000 + n, customer=first.customer, unit=first.unit, complaint_words="x",
                state="on_the_bench" if n % 7 == 0 else "booked_in", mechanic=mechanic if n % 7 == 0 else None,
                state_since=first.state_since, booked_at=first.booked_at, promised_on=first.promised_on,
                search_text="x",
            )
            for n in range(1000)
        ]  # fmt: skip
        Ticket.objects.bulk_create(many[:10])
        with_ten = queries()
        Ticket.objects.bulk_create(many[10:])
        # Two more: how many there are in all, where not all are shown.
        assert queries() <= with_ten + 2

    def test_taking_a_ticket_puts_it_on_the_mechanics_bench(self, bench: Client, shop: Shop, mechanic: User) -> None:
        ticket = TicketFactory(shop=shop)
        answer = bench.post(url("take", ticket), {"version": ticket.version})
        assert answer.status_code == 302
        ticket.refresh_from_db()
        assert (ticket.state, ticket.mechanic) == ("on_the_bench", mechanic)

    def test_a_ticket_that_somebody_else_took_says_so(self, bench: Client, shop: Shop) -> None:
        ticket = TicketFactory(shop=shop)
        other = UserFactory(shop=shop, mechanic=True)
        move(ticket=ticket, to_state="on_the_bench", by=other, seen_version=1)
        answer = bench.post(url("take", ticket), {"version": 1})
        assert answer.status_code == 409
        assert "Somebody changed this ticket meanwhile" in answer.text

    def test_the_counter_looks_but_does_not_take(self, client: Client, shop: Shop) -> None:
        client.force_login(UserFactory(shop=shop))
        ticket = TicketFactory(shop=shop)
        assert "Take it" not in client.get(reverse("bench:board")).text
        assert client.post(url("take", ticket), {"version": 1}).status_code == 403


class TestTicket:
    def test_the_complaint_suggests_its_checklist(self, bench: Client, ticket: Ticket) -> None:
        answer = bench.get(url("ticket", ticket))
        assert [entry.key for entry in answer.context["suggested"]] == ["sits-low"]

    def test_starting_it_twice_gives_one_run(self, bench: Client, ticket: Ticket) -> None:
        for _ in range(2):
            answer = bench.post(url("start", ticket, "sits-low"))
        assert Run.objects.count() == 1
        assert answer.url == url("run", ticket, Run.objects.get().pk)

    def test_a_checklist_begun_by_mistake_is_put_away(self, bench: Client, ticket: Ticket, run: Run) -> None:
        bench.post(url("put_away", ticket, run.pk))
        assert not Run.objects.exists()

    def test_a_checklist_that_was_ticked_stays(self, bench: Client, ticket: Ticket, run: Run) -> None:
        answered(run, "record-arrival", "left_out")
        answer = bench.post(url("put_away", ticket, run.pk), follow=True)
        assert "stays with the ticket" in answer.text
        assert Run.objects.exists()

    def test_it_waits_for_the_customers_answer(self, bench: Client, ticket: Ticket) -> None:
        form = {"version": ticket.version, "waiting_for": "customer", "reason": "New upper assembly?"}
        bench.post(url("wait", ticket), form)
        ticket.refresh_from_db()
        assert ticket.state_words == "Waiting for the customer's answer"
        assert ticket.moves.get().reason == "New upper assembly?"


class TestStep:
    def test_it_shows_what_to_do_and_this_forks_values(self, bench: Client, ticket: Ticket, run: Run) -> None:
        SpecValueFactory(model=ticket.unit.model, quantity="max_pressure")
        text = bench.get(url("step", ticket, run.pk, "arrival-pressure")).text
        assert "Read the gauge at once" in text
        assert "Caution: " in text
        assert re.search(r'spec__value">120 <span class="spec__unit">psi', text)
        assert "not checked against the manual" in text

    def test_a_value_nobody_knows_is_a_blank(self, bench: Client, ticket: Ticket, run: Run) -> None:
        assert "see the maker’s manual" in bench.get(url("step", ticket, run.pk, "arrival-pressure")).text

    def test_lines_for_another_kind_of_fork_are_not_shown(self, bench: Client, ticket: Ticket, run: Run) -> None:
        text = bench.get(url("step", ticket, run.pk, "foot-fasteners-on")).text
        assert "Start both foot bolts" in text
        assert "Start both foot nuts" not in text

    def test_an_answer_leads_to_the_next_step(self, bench: Client, ticket: Ticket, run: Run) -> None:
        form = form_of(run, "done", **{"reading-rest_travel": "28"})
        answer = bench.post(url("answer", ticket, run.pk, "record-arrival"), form)
        assert answer.url == url("step", ticket, run.pk, "arrival-pressure")
        assert Reading.objects.get().typed == "28 mm"

    def test_with_htmx_the_next_step_comes_in_place(self, bench: Client, ticket: Ticket, run: Run) -> None:
        form = form_of(run, "done", **{"reading-rest_travel": "28"})
        answer = bench.post(url("answer", ticket, run.pk, "record-arrival"), form, **HTMX)
        assert answer["HX-Push-Url"] == url("step", ticket, run.pk, "arrival-pressure")
        assert 'id="work"' in answer.text
        assert "<html" not in answer.text

    def test_the_same_answer_sent_again_is_harmless(self, bench: Client, ticket: Ticket, run: Run) -> None:
        form = form_of(run, "done", **{"reading-rest_travel": "28"})
        for _ in range(2):
            assert bench.post(url("answer", ticket, run.pk, "record-arrival"), form).status_code == 302
        assert Tick.objects.count() == Reading.objects.count() == 1

    def test_a_bad_reading_is_refused_beside_its_field_and_kept(self, bench: Client, ticket: Ticket, run: Run) -> None:
        form = form_of(run, "done", **{"reading-rest_travel": "28 psi", "note": "Left leg is dry"})
        answer = bench.post(url("answer", ticket, run.pk, "record-arrival"), form, **HTMX)
        assert answer.status_code == 422
        assert "not a unit of length" in answer.text
        assert 'value="28 psi"' in answer.text
        assert "Left leg is dry" in answer.text
        assert not Tick.objects.exists()

    def test_a_missing_reading_is_asked_for(self, bench: Client, ticket: Ticket, run: Run) -> None:
        answer = bench.post(url("answer", ticket, run.pk, "record-arrival"), form_of(run, "done"))
        assert answer.status_code == 422
        assert "cannot be answered without it" in answer.text

    def test_a_step_that_has_to_wait_says_for_what(self, bench: Client, ticket: Ticket, run: Run) -> None:
        answer = bench.post(url("answer", ticket, run.pk, "inspect-wipers"), form_of(run, "found"))
        assert answer.status_code == 422
        assert "has to wait. First do “Clean stanchions, wipers and lowers”" in answer.text

    def test_a_pressure_above_the_maximum_is_refused_until_it_is_meant(
        self, bench: Client, ticket: Ticket, run: Run
    ) -> None:
        SpecValueFactory(model=ticket.unit.model, quantity="max_pressure")
        answered(run, "record-arrival", "done", ARRIVED["record-arrival"])
        address = url("answer", ticket, run.pk, "arrival-pressure")
        refused = bench.post(address, form_of(run, "done", **{"reading-pump_pressure": "130"}))
        assert refused.status_code == 422
        assert "maximum is 120 psi" in refused.text
        assert 'name="above_maximum"' in refused.text
        meant = form_of(run, "done", above_maximum="on", **{"reading-pump_pressure": "130"})
        assert bench.post(address, meant).status_code == 302

    def test_taking_back_opens_the_step_again(self, bench: Client, ticket: Ticket, run: Run) -> None:
        answered(run, "record-arrival", "done", ARRIVED["record-arrival"])
        form = {"version": 2, "client_id": str(uuid.uuid4())}
        answer = bench.post(url("take_back", ticket, run.pk, "record-arrival"), form, **HTMX)
        assert answer.status_code == 200
        assert Tick.objects.last().outcome == "taken_back"
        assert 'value="28 mm"' in answer.text

    def test_a_finding_puts_its_parts_on_the_ticket_and_taking_it_back_drops_them(
        self, bench: Client, ticket: Ticket, run: Run
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

    def test_a_timer_survives_a_reload_and_can_be_stopped(self, bench: Client, ticket: Ticket, run: Run) -> None:
        bench.post(url("start_timer", ticket, run.pk, "prove-pressure"), {"client_id": str(uuid.uuid4())})
        timer = StepTimer.objects.get()
        page = bench.get(url("step", ticket, run.pk, "prove-pressure")).text
        assert f'data-ends="{round((timer.started_at.timestamp() + 1200) * 1000)}"' in page
        assert "data-timer" in bench.get(reverse("bench:board")).text
        bench.post(url("stop_timer", ticket, run.pk, timer.pk))
        assert StepTimer.objects.get().stopped_at is not None

    def test_a_photo_is_kept_at_its_step(self, bench: Client, ticket: Ticket, run: Run) -> None:
        picture = BytesIO()
        Image.new("RGB", (40, 30), "grey").save(picture, "JPEG")
        file = SimpleUploadedFile("stanchion.jpg", picture.getvalue(), "image/jpeg")
        form = {"photo": file, "client_id": str(uuid.uuid4())}
        answer = bench.post(url("photo", ticket, run.pk, "record-arrival"), form, **HTMX)
        assert answer.status_code == 200
        assert Photo.objects.get().step.key == "record-arrival"

    def test_a_file_that_is_no_photo_is_refused(self, bench: Client, ticket: Ticket, run: Run) -> None:
        form = {"photo": SimpleUploadedFile("notes.txt", b"hello", "text/plain")}
        answer = bench.post(url("photo", ticket, run.pk, "record-arrival"), form, **HTMX)
        assert answer.status_code == 422
        assert not Photo.objects.exists()

    def test_a_run_of_another_ticket_is_not_found(self, bench: Client, ticket: Ticket, run: Run, shop: Shop) -> None:
        other = TicketFactory(shop=shop)
        assert bench.get(url("step", other, run.pk, "record-arrival")).status_code == 404
        assert bench.get(url("step", ticket, run.pk, "no-such-step")).status_code == 404

    def test_a_ticket_that_left_the_bench_is_only_read(self, bench: Client, ticket: Ticket, run: Run) -> None:
        Ticket.objects.filter(pk=ticket.pk).update(state="booked_in")
        answer = bench.post(url("answer", ticket, run.pk, "record-arrival"), form_of(run, "left_out"))
        assert answer.status_code == 422
        assert not Tick.objects.exists()

    def test_a_step_takes_the_same_number_of_queries_early_and_late(
        self, bench: Client, ticket: Ticket, run: Run
    ) -> None:
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

    def test_an_expired_session_answers_401_and_not_with_a_sign_in_page(
        self, client: Client, ticket: Ticket, run: Run
    ) -> None:
        answer = client.post(url("answer", ticket, run.pk, "record-arrival"), form_of(run, "left_out"), **HTMX)
        assert answer.status_code == 401


class TestTwoTablets:
    def test_the_second_is_told_and_keeps_what_it_typed(self, bench: Client, ticket: Ticket, run: Run) -> None:
        mine = form_of(run, "done", **{"reading-rest_travel": "31", "note": "Measured twice"})
        answered(run, "record-arrival", "left_out")
        answer = bench.post(url("answer", ticket, run.pk, "record-arrival"), mine, **HTMX)
        assert answer.status_code == 409
        assert "Your answer is not saved yet" in answer.text
        assert "Left out" in answer.text
        assert 'value="31"' in answer.text
        assert "Measured twice" in answer.text
        assert "Keep what is there" in answer.text
        assert Tick.objects.count() == 1

    def test_it_can_save_its_own_as_well(self, bench: Client, ticket: Ticket, run: Run) -> None:
        mine = form_of(run, "done", **{"reading-rest_travel": "31"})
        answered(run, "record-arrival", "left_out")
        conflict = bench.post(url("answer", ticket, run.pk, "record-arrival"), mine).text
        shown = {
            name: re.search(rf'name="{name}" value="([^"]+)"', conflict).group(1)  # type: ignore[union-attr]
            for name in ("version", "client_id")
        }
        assert shown["version"] == "2"
        bench.post(url("answer", ticket, run.pk, "record-arrival"), mine | shown)
        assert list(Tick.objects.values_list("outcome", flat=True)) == ["left_out", "done"]

    def test_a_page_brought_back_with_its_old_id_loses_nothing(self, bench: Client, ticket: Ticket, run: Run) -> None:
        first = form_of(run, "left_out")
        bench.post(url("answer", ticket, run.pk, "record-arrival"), first)
        again = first | {"outcome": "done", "reading-rest_travel": "31"}
        assert bench.post(url("answer", ticket, run.pk, "record-arrival"), again).status_code == 409
        assert Tick.objects.count() == 1


class TestProof:
    def prove_all(self, run: Run) -> None:
        arrived(run)
        answered(run, "pressure-and-cycle", "found")
        answered(run, "prove-pressure", "proved", {"pressure_set": "80 psi", "pressure_recheck": "80 psi"})
        answered(run, "prove-rest", "proved", {"rest_travel": "4 mm"})
        answered(run, "prove-clicks", "proved", {"rebound_clicks": "7"})
        answered(run, "prove-brakes", "proved")
        answered(run, "prove-sag", "proved", {"sag": "25 mm"})
        answered(run, "test-ride", "proved")

    def test_with_the_proof_the_ticket_is_ready(self, bench: Client, ticket: Ticket, run: Run) -> None:
        self.prove_all(run)
        answer = bench.post(url("finish", ticket), {"version": ticket.version, "reason": ""})
        assert answer.url == reverse("bench:board")
        ticket.refresh_from_db()
        assert ticket.state == "ready"

    def test_without_it_the_page_says_what_is_missing(self, bench: Client, ticket: Ticket, run: Run) -> None:
        arrived(run)
        answer = bench.post(url("finish", ticket), {"version": ticket.version, "reason": ""})
        assert answer.status_code == 422
        assert "Still to be proved on the bench: “Prove that the pressure holds”" in answer.text
        ticket.refresh_from_db()
        assert ticket.state == "on_the_bench"

    def test_a_reason_lets_it_go_and_is_logged(self, bench: Client, ticket: Ticket, run: Run) -> None:
        bench.post(url("finish", ticket), {"version": ticket.version, "reason": "Goes on to the damper specialist"})
        ticket.refresh_from_db()
        assert ticket.state == "ready"
        logged = " ".join(ticket.events.values_list("text", flat=True))
        assert "Ready without proof: “Prove that the pressure holds”" in logged
        assert "Goes on to the damper specialist" in logged

    def test_the_plain_move_is_held_back_too(self, ticket: Ticket, run: Run, shop: Shop) -> None:
        clerk = UserFactory(shop=shop)
        for more in ({}, {"reason": "In a hurry", "without_proof": True}):
            with pytest.raises(ProofMissing):
                move(ticket=ticket, to_state="ready", by=clerk, seen_version=1, **more)  # type: ignore[arg-type]
            ticket.refresh_from_db()
        assert ticket.state == "on_the_bench"

    def test_a_complaint_whose_checklist_was_never_begun_is_held_back(self, ticket: Ticket, mechanic: User) -> None:
        with pytest.raises(ProofMissing, match="“Sits low in its travel” was not worked through"):
            move(ticket=ticket, to_state="ready", by=mechanic, seen_version=1)

    def test_a_ticket_without_checklists_has_nothing_to_prove(self, shop: Shop, mechanic: User) -> None:
        ticket = TicketFactory(shop=shop, state="on_the_bench")
        move(ticket=ticket, to_state="ready", by=mechanic, seen_version=1)
        assert ticket.state == "ready"

    def test_a_proof_taken_back_is_missing_again(self, bench: Client, ticket: Ticket, run: Run) -> None:
        self.prove_all(run)
        form = {"version": Run.objects.get(pk=run.pk).version, "client_id": str(uuid.uuid4())}
        bench.post(url("take_back", ticket, run.pk, "prove-rest"), form)
        answer = bench.post(url("finish", ticket), {"version": ticket.version, "reason": ""})
        assert "“Prove the rest position”" in answer.text

    def test_a_doubtful_reading_is_not_proof_without_a_word_why(self, bench: Client, ticket: Ticket, run: Run) -> None:
        arrived(run)
        address = url("answer", ticket, run.pk, "prove-rest")
        form = form_of(run, "proved", **{"reading-rest_travel": "28"})
        refused = bench.post(address, form)
        assert refused.status_code == 422
        assert "Deeper than usual." in refused.text
        assert "common practice, no published source" in refused.text
        assert bench.post(address, form | {"note": "Coil side, preload off"}).status_code == 302

    def test_readings_are_judged_before_they_are_saved(self, bench: Client, ticket: Ticket, run: Run) -> None:
        form = {"reading-rest_travel": "4"}
        answer = bench.post(url("judge", ticket, run.pk, "prove-rest"), form, **HTMX)
        assert "Within what is usual." in answer.text
        assert not Reading.objects.exists()


class TestParts:
    def test_a_part_found_by_words_is_added(self, bench: Client, ticket: Ticket) -> None:
        item = StockItemFactory(shop=ticket.shop, part__description="Wiper for 35 mm")
        StockMovementFactory(item=item)
        page = bench.get(url("parts", ticket), {"q": "35 wiper"})
        assert [entry.part for entry in page.context["found"]] == [item.part]
        bench.post(url("add_part", ticket), {"part": item.part.pk, "quantity": "2"})
        assert ticket.part_lines.get().quantity == 2

    def test_an_empty_line_is_refused_and_what_was_typed_kept(self, bench: Client, ticket: Ticket) -> None:
        answer = bench.post(url("add_part", ticket), {"words": "", "quantity": "3", "note": "blue"})
        assert answer.status_code == 422
        assert "Choose a part or say in words" in answer.text
        assert 'value="blue"' in answer.text

    def test_more_than_there_is_is_refused_beside_the_line(self, bench: Client, ticket: Ticket) -> None:
        item = StockItemFactory(shop=ticket.shop)
        line = PartLineFactory(ticket=ticket, part=item.part)
        answer = bench.post(url("use_part", ticket, line.pk), **HTMX)
        assert answer.status_code == 422
        assert "receive or count them first" in answer.text

    @pytest.mark.parametrize(("name", "status"), [("drop_part", "dropped"), ("use_part", "used")])
    def test_a_line_is_dropped_or_used_and_taken_up_again(
        self, bench: Client, ticket: Ticket, name: str, status: str
    ) -> None:
        line = PartLineFactory(ticket=ticket)
        assert bench.post(url(name, ticket, line.pk), **HTMX).status_code == 200
        line.refresh_from_db()
        assert line.status == status
        bench.post(url("part_again", ticket, line.pk), **HTMX)
        line.refresh_from_db()
        assert line.status == "needed"

    @pytest.mark.parametrize("typed", ["0", "-1", "many", ""])
    def test_a_quantity_that_is_none_is_refused(self, bench: Client, ticket: Ticket, typed: str) -> None:
        line = PartLineFactory(ticket=ticket)
        answer = bench.post(url("part_quantity", ticket, line.pk), {"quantity": typed}, **HTMX)
        assert answer.status_code == 422
        line.refresh_from_db()
        assert line.quantity == 1

    def test_lines_of_another_shop_are_not_found(self, bench: Client, ticket: Ticket) -> None:
        line = PartLineFactory()
        assert bench.post(url("drop_part", ticket, line.pk)).status_code == 404


class TestStores:
    def test_the_list_is_searched_and_says_what_is_short(self, bench: Client, shop: Shop) -> None:
        StockMovementFactory(item=StockItemFactory(shop=shop, part__description="Foam ring"))
        StockItemFactory(shop=shop, part__description="Wiper")
        StockItemFactory(part__description="Wiper of another shop")
        rows = bench.get(reverse("stores:stock"), {"q": "wiper"}).context["page"].object_list
        assert [item.part.description for item in rows] == ["Wiper"]
        rows = bench.get(reverse("stores:stock"), {"show": "short"}).context["page"].object_list
        assert [item.part.description for item in rows] == ["Wiper"]

    def test_fifty_a_page_in_as_many_queries_as_one(self, bench: Client, shop: Shop) -> None:
        def queries() -> int:
            with CaptureQueriesContext(connection) as captured:
                bench.get(reverse("stores:stock"))
            return len(captured)

        StockItemFactory(shop=shop)
        one = queries()
        StockItemFactory.create_batch(60, shop=shop)
        assert queries() == one
        assert len(bench.get(reverse("stores:stock")).context["page"].object_list) == 50

    def test_receive_count_and_write_off(self, bench: Client, shop: Shop) -> None:
        item = StockItemFactory(shop=shop)
        bench.post(reverse("stores:receive", args=[item.pk]), {"quantity": "10"})
        bench.post(reverse("stores:count", args=[item.pk]), {"counted": "8"})
        bench.post(reverse("stores:write_off", args=[item.pk]), {"quantity": "1", "note": "Torn"})
        assert level_of(item) == 7
        refused = bench.post(reverse("stores:write_off", args=[item.pk]), {"quantity": "9", "note": "Torn"})
        assert refused.status_code == 422
        assert "so 9 cannot go out" in refused.text
        assert level_of(item) == 7

    def test_another_shops_item_is_not_found(self, bench: Client) -> None:
        assert bench.get(reverse("stores:item", args=[StockItemFactory().pk])).status_code == 404
