"""Findings on the tablet: what each is, what no step asks for, what answers it, and red where it is not safe."""

from __future__ import annotations

import re
import uuid

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from diagnosis.models import Run, Tick
from tests.bench_runs import HTMX, answered, arrived, form_of, url
from tests.factories import TicketFactory, UserFactory
from workshop.models import FindingAnswer, FreeFinding, Shop, Ticket, User

pytestmark = pytest.mark.django_db
SEEN = {"place": "Crown", "text": "Cracked at the left stanchion", "kind": "danger"}


@pytest.fixture
def outside(run: Run) -> Run:
    """As it came in, and clean."""
    arrived(run)
    answered(run, "pressure-and-cycle", "cant_tell")
    answered(run, "clean-outside", "done")
    return run


def seen(**more: str) -> dict[str, str]:
    return SEEN | {"client_id": str(uuid.uuid4())} | more


class TestAtFound:
    @pytest.mark.parametrize(("kind", "chip"), [("by_the_way", "Noted"), ("danger", "Do not ride")])
    def test_noted_it_shows_and_the_search_goes_on(
        self, bench: Client, ticket: Ticket, outside: Run, kind: str, chip: str
    ) -> None:
        sent = form_of(outside, f"found::{kind}")
        for _ in range(2):  # sent again it is one
            assert bench.post(url("answer", ticket, outside.pk, "inspect-stanchions"), sent).status_code == 302
        assert Tick.objects.get(outcome="found").finding == kind
        page = bench.get(url("ticket", ticket)).text
        assert chip in page
        assert "Continue:" in page
        step = bench.get(url("run", ticket, outside.pk), follow=True).text
        assert ("Do not ride." in step) == (kind == "danger"), "it is red from there on"
        again = bench.get(url("step", ticket, outside.pk, "inspect-stanchions")).text
        assert re.search(rf'value="found::{kind}" aria-pressed="true"', again)

    def test_the_same_id_for_another_kind_is_shown_and_not_dropped(
        self, bench: Client, ticket: Ticket, outside: Run
    ) -> None:
        address, sent = url("answer", ticket, outside.pk, "inspect-stanchions"), form_of(outside, "found::by_the_way")
        bench.post(address, sent)
        refused = bench.post(address, {**sent, "outcome": "found::danger"}, **HTMX)
        assert refused.status_code == 409
        assert "Found: Dangerous: do not ride" in refused.text

    def test_what_cannot_be_is_refused_beside_the_step(self, bench: Client, ticket: Ticket, outside: Run) -> None:
        sent = form_of(outside, "found::perhaps")
        refused = bench.post(url("answer", ticket, outside.pk, "inspect-stanchions"), sent, **HTMX)
        assert refused.status_code == 422
        assert "no kind of finding" in refused.text

    def test_where_no_cause_can_be_found_only_two_are_offered(self, bench: Client, ticket: Ticket, run: Run) -> None:
        run.checklist.steps.filter(key="inspect-wipers").update(ends_search={})
        text = bench.get(url("step", ticket, run.pk, "inspect-wipers")).text
        values = re.findall(r'name="outcome" value="(found[^"]+)"', text)
        assert values == ["found::by_the_way", "found::danger"]

    def test_the_tablet_knows_what_counts_while_it_is_cut_off(
        self, bench: Client, ticket: Ticket, outside: Run
    ) -> None:
        bench.post(url("answer", ticket, outside.pk, "inspect-stanchions"), form_of(outside, "found::danger"))
        panels = bench.get(url("panels", ticket, outside.pk)).json()
        assert panels["steps"]["inspect-stanchions"]["outcome"] == "noted"
        assert panels["steps"]["inspect-stanchions"]["ends"] is True
        assert "noted" not in panels["steps"]["inspect-wipers"]["leads"]
        assert panels["steps"]["inspect-wipers"]["leads"]["found"] == "wheel-out"


class TestSeenByTheWay:
    def test_noted_at_a_step_it_is_there_on_every_page(self, bench: Client, ticket: Ticket, run: Run) -> None:
        sent = seen(run=str(run.pk), step="record-arrival")
        for _ in range(2):
            answer = bench.post(url("note_finding", ticket), sent, **HTMX)
            assert answer.status_code == 200
            assert SEEN["text"] in answer.text
        assert FreeFinding.objects.get().step == run.checklist.steps.get(key="record-arrival")
        for page in (
            url("ticket", ticket),
            url("step", ticket, run.pk, "wheel-out"),
            reverse("counter:ticket", args=[ticket.number]),
        ):
            text = bench.get(page).text
            assert SEEN["text"] in text
            assert "Do not ride." in text

    @pytest.mark.parametrize(
        ("missing", "words"),
        [("place", "Say where it is"), ("text", "Say what it is"), ("kind", "Say how bad it is")],
    )
    @pytest.mark.parametrize("at_a_step", [True, False])
    def test_what_is_not_said_is_asked_for_and_nothing_typed_is_lost(
        self, bench: Client, ticket: Ticket, run: Run, missing: str, words: str, at_a_step: bool
    ) -> None:
        where = {"run": str(run.pk), "step": "record-arrival"} if at_a_step else {}
        refused = bench.post(url("note_finding", ticket), seen(**where, **{missing: ""}), **(HTMX if at_a_step else {}))
        assert refused.status_code == 422
        assert words in refused.text
        kept = next(SEEN[name] for name in ("text", "place") if name != missing)
        assert kept in refused.text
        assert not FreeFinding.objects.exists()

    def test_every_list_shows_it_and_in_no_more_queries_for_several(
        self, bench: Client, ticket: Ticket, shop: Shop, mechanic: User
    ) -> None:
        bench.post(url("note_finding", ticket), seen())
        addresses = (reverse("bench:board"), reverse("counter:tickets"))
        for address in addresses:
            bench.get(address)  # what is remembered for minutes is looked up now
        counts = []
        for more in (0, 3):
            for _ in range(more):
                other = TicketFactory(shop=shop, state="on_the_bench", mechanic=mechanic)
                bench.post(url("note_finding", other), seen())
            bench.get(addresses[0])  # what was said after each is shown, and then forgotten
            for address in addresses:
                with CaptureQueriesContext(connection) as asked:
                    assert bench.get(address).text.count("chip--danger") == 1 + more
                counts.append(len(asked))
        assert counts[:2] == counts[2:]

    def test_a_mistake_is_taken_away(self, bench: Client, ticket: Ticket) -> None:
        bench.post(url("note_finding", ticket), seen())
        made = FreeFinding.objects.get()
        for _ in range(2):
            assert bench.post(url("withdraw_finding", ticket, made.pk)).status_code == 302
        assert "Do not ride." not in bench.get(url("ticket", ticket)).text

    def test_another_tickets_finding_is_not_found(self, bench: Client, ticket: Ticket, shop: Shop) -> None:
        bench.post(url("note_finding", ticket), seen())
        other = TicketFactory(shop=shop, state="on_the_bench")
        assert bench.post(url("withdraw_finding", other, FreeFinding.objects.get().pk)).status_code == 404


class TestAnswering:
    @pytest.fixture
    def free(self, bench: Client, ticket: Ticket) -> FreeFinding:
        bench.post(url("note_finding", ticket), seen())
        return FreeFinding.objects.get()

    def say(self, client: Client, ticket: Ticket, free: FreeFinding, how: str, words: str = "") -> int:
        sent = {"how": how, "words": words, "client_id": str(uuid.uuid4())}
        return client.post(url("answer_finding", ticket, f"free-{free.pk}"), sent).status_code

    def test_open_it_says_so_and_the_ticket_is_not_ready(
        self, bench: Client, ticket: Ticket, free: FreeFinding
    ) -> None:
        page = bench.get(url("ticket", ticket)).text
        assert "Nothing answers it yet." in page
        assert "Crown (Cracked at the left stanchion): dangerous, and nothing answers it" in page
        ticket.complaints.clear()
        refused = bench.post(url("finish", ticket), {"version": ticket.version, "reason": "Looks old"})
        assert refused.status_code == 422
        assert "No reason does instead" in refused.text

    def test_the_customers_no_is_written_down_by_anybody(
        self, client: Client, ticket: Ticket, free: FreeFinding, shop: Shop
    ) -> None:
        client.force_login(UserFactory(shop=shop))
        address = url("answer_finding", ticket, f"free-{free.pk}")
        refused = client.post(address, {"how": "declined", "words": "", "client_id": str(uuid.uuid4())})
        assert refused.status_code == 422
        assert "Record the customer’s no." in refused.text
        assert self.say(client, ticket, free, "declined", "Too dear") == 302
        page = client.get(url("ticket", ticket)).text
        assert "The customer said no: Too dear" in page
        assert "It is handed back unsafe." in page
        assert client.post(url("reopen_finding", ticket, f"free-{free.pk}")).status_code == 302
        assert "Nothing answers it yet." in client.get(url("ticket", ticket)).text

    def test_a_danger_is_not_left(self, bench: Client, ticket: Ticket, free: FreeFinding) -> None:
        page = bench.get(url("ticket", ticket)).text
        assert 'value="left"' not in page
        refused = bench.post(
            url("answer_finding", ticket, f"free-{free.pk}"),
            {"how": "left", "words": "Typed at length", "client_id": str(uuid.uuid4())},
        )
        assert refused.status_code == 422
        assert "A danger never goes without." in refused.text
        assert "Typed at length" in refused.text
        assert not FindingAnswer.objects.exists()

    def test_what_is_gone_is_said_and_not_the_500(self, bench: Client, ticket: Ticket, free: FreeFinding) -> None:
        bench.post(url("withdraw_finding", ticket, free.pk))
        for name in ("answer_finding", "reopen_finding"):
            sent = {"how": "declined", "words": "x", "client_id": str(uuid.uuid4())}
            answer = bench.post(url(name, ticket, f"free-{free.pk}"), sent, follow=True)
            assert answer.status_code == 200
            assert "no longer on this ticket" in answer.text


class TestHandedBackUnsafe:
    @pytest.fixture
    def owner(self, client: Client, shop: Shop) -> User:
        made: User = UserFactory(shop=shop, owner=True)
        client.force_login(made)
        return made

    @pytest.fixture
    def declined(self, client: Client, owner: User, ticket: Ticket) -> Ticket:
        client.post(url("note_finding", ticket), seen())
        token = f"free-{FreeFinding.objects.get().pk}"
        sent = {"how": "declined", "words": "Too dear", "client_id": str(uuid.uuid4())}
        client.post(url("answer_finding", ticket, token), sent)
        Ticket.objects.filter(pk=ticket.pk).update(state="ready")
        ticket.refresh_from_db()
        return ticket

    def test_the_counter_asks_for_the_name_in_red(self, client: Client, declined: Ticket) -> None:
        address = reverse("counter:hand_back", args=[declined.number])
        page = client.get(address).text
        assert "message--error" in page
        assert "Hand back unsafe" in page
        sent = {"seen_version": declined.version, "seen_settings_version": "0", "remarks": "In a box", "signed_by": " "}
        for _ in range(2):
            refused = client.post(address, sent)
            assert refused.status_code == 422
            assert "Type the name of who takes it" in refused.text
            assert "In a box" in refused.text
        assert client.post(address, {**sent, "signed_by": "R. Winterbourne"}).status_code == 302
        for page in (reverse("counter:ticket", args=[declined.number]), url("ticket", declined)):
            text = client.get(page).text
            assert "Handed back unsafe." in text
            assert "R. Winterbourne" in text

    def test_and_the_next_visit_says_so(self, client: Client, declined: Ticket) -> None:
        address = reverse("counter:hand_back", args=[declined.number])
        client.post(address, {"seen_version": declined.version, "seen_settings_version": "0", "signed_by": "R. W."})
        again = TicketFactory(shop=declined.shop, customer=declined.customer, unit=declined.unit)
        for page in (
            reverse("counter:ticket", args=[again.number]),
            url("ticket", again),
            reverse("counter:unit", args=[declined.unit_id]),
        ):
            assert "Handed back unsafe last time." in client.get(page).text
