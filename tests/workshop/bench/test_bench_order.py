"""The order at the bench: the handbook's until the mechanic takes the suggested one, and why a step is next."""

from __future__ import annotations

import re

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from diagnosis.layout import applies
from diagnosis.models import Run, Tick
from tests.any_reading import any_reading
from tests.bench_runs import HTMX, answered, arrived, form_of, url
from tests.factories import TicketFactory, TicketRunFactory, TickFactory, UserFactory
from tests.squeezed import squeezed
from workshop.models import Shop, Ticket

pytestmark = pytest.mark.django_db

# Bleeding the legs is quick and likely here, and the handbook has three checks before it.
SAVES = "Use the suggested order"


def take(bench: Client, ticket: Ticket, run: Run, order: str = "suggested") -> None:
    assert bench.post(url("order", ticket, run.pk), {"order": order}).status_code == 302


def next_url(bench: Client, ticket: Ticket, run: Run) -> str:
    return str(bench.get(url("run", ticket, run.pk))["Location"])


def test_the_handbooks_order_is_followed_until_the_suggested_one_is_taken(
    bench: Client, ticket: Ticket, run: Run
) -> None:
    arrived(run)
    assert next_url(bench, ticket, run) == url("step", ticket, run.pk, "pressure-and-cycle")
    answered(run, "pressure-and-cycle", "ruled_out")
    answered(run, "clean-outside", "done")
    assert next_url(bench, ticket, run) == url("step", ticket, run.pk, "inspect-stanchions")
    take(bench, ticket, run)
    assert next_url(bench, ticket, run) == url("step", ticket, run.pk, "bleed-legs")
    take(bench, ticket, run, "handbook")
    assert next_url(bench, ticket, run) == url("step", ticket, run.pk, "inspect-stanchions")


def test_taking_it_is_in_the_logbook_once_and_makes_no_answer_stale(bench: Client, ticket: Ticket, run: Run) -> None:
    for _ in range(2):
        take(bench, ticket, run)
    assert ticket.events.filter(kind="order_suggested", values__title=run.checklist.title).count() == 1
    assert Run.objects.get(pk=run.pk).version == run.version


def test_both_orders_and_the_minutes_saved_are_on_the_tickets_page(bench: Client, ticket: Ticket, run: Run) -> None:
    text = bench.get(url("ticket", ticket)).text
    assert SAVES in text
    assert re.search(r"takes \d+ minutes to the cause on average,\s+that of the standard order \d+", text)
    assert "What has to be opened on the way and closed again after it is counted." in squeezed(text)
    assert "they are the checklist’s own weights (common practice, no published source)" in text
    assert "90 % interval" in text


def test_the_list_beside_a_step_stands_in_the_order_that_is_followed(bench: Client, ticket: Ticket, run: Run) -> None:
    arrived(run)
    answered(run, "clean-outside", "done")
    take(bench, ticket, run)
    text = bench.get(url("step", ticket, run.pk, "bleed-legs")).text
    keys = re.findall(
        rf'href="[^"]*/run/{run.pk}/([a-z-]+)/" aria-current|class="step[^"]*"\s+href="[^"]*/([a-z-]+)/"', text
    )
    listed = [one or other for one, other in keys]
    assert listed.index("bleed-legs") < listed.index("inspect-stanchions")
    assert listed[:3] == ["record-arrival", "arrival-pressure", "record-clicks"]
    assert "Back to the standard order" in text


def test_the_reason_of_the_next_step_says_minutes_and_share(bench: Client, ticket: Ticket, run: Run) -> None:
    arrived(run)
    text = bench.get(url("step", ticket, run.pk, "pressure-and-cycle")).text
    why = re.search(r'<p class="why">([^<]*)</p>', text)
    assert why is not None
    # What the answer before means, then the next step's own reason.
    assert (
        why[1]
        == "The settings can now be put back as the rider had them. Six minutes, settles about one in six of these."
    )


def test_each_answer_plans_again(bench: Client, ticket: Ticket, run: Run) -> None:
    arrived(run)
    answered(run, "clean-outside", "done")
    take(bench, ticket, run)
    saved = bench.post(url("answer", ticket, run.pk, "bleed-legs"), form_of(run, "ruled_out"), **HTMX).json()
    answer = bench.get(saved["next"], **HTMX)
    assert url("step", ticket, run.pk, "bleed-legs") != answer["HX-Push-Url"]
    assert "settles about" in answer.text


def test_after_the_finding_the_work_and_the_proof_follow_the_handbook(bench: Client, ticket: Ticket, run: Run) -> None:
    arrived(run)
    answered(run, "clean-outside", "done")
    take(bench, ticket, run)
    answered(run, "bleed-legs", "found")
    assert next_url(bench, ticket, run) == url("step", ticket, run.pk, "prove-rest")
    assert SAVES not in bench.get(url("ticket", ticket)).text


def test_only_a_mechanic_on_a_ticket_on_the_bench_chooses(
    client: Client, bench: Client, ticket: Ticket, run: Run, shop: Shop
) -> None:
    Ticket.objects.filter(pk=ticket.pk).update(state="booked_in")
    take(bench, ticket, run)
    assert not Run.objects.get(pk=run.pk).in_suggested_order
    client.force_login(UserFactory(shop=shop, role="counter"))
    assert client.post(url("order", ticket, run.pk), {"order": "suggested"}).status_code == 403


def test_a_step_costs_as_many_queries_in_either_order_and_with_more_tickets(
    bench: Client, ticket: Ticket, run: Run, shop: Shop
) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as captured:
            bench.get(url("step", ticket, run.pk, "bleed-legs"))
        return len(captured)

    arrived(run)
    first, in_handbook_order = queries(), queries()
    assert first - in_handbook_order == 2  # what the shop's tickets say, once every ten minutes
    take(bench, ticket, run)
    for _ in range(3):
        closed = TicketRunFactory(
            ticket=TicketFactory(shop=shop, state="handed_back"), run=Run.objects.create(checklist=run.checklist)
        )
        TickFactory(run=closed.run, step=run.checklist.steps.get(key="bleed-legs"), outcome="found")
    assert queries() == in_handbook_order


class TestWhichCause:
    @pytest.fixture
    def at_recheck(self, run: Run) -> Run:
        """The step whose finding can mean four causes, everything before it answered."""
        for step in run.checklist.steps.all():
            if step.key == "recheck-after-rebuild":
                break
            outcome = {"check": "cant_tell", "work": "done"}.get(step.kind)
            if applies(step, run.facts) != "no" and step.key != "loaded-chamber" and outcome:
                typed = {plan["key"]: any_reading(plan) for plan in step.readings} if outcome == "done" else {}
                answered(run, step.key, outcome, typed)
        return run

    def test_there_is_a_button_for_each_cause(self, bench: Client, ticket: Ticket, at_recheck: Run) -> None:
        text = bench.get(url("step", ticket, at_recheck.pk, "recheck-after-rebuild")).text
        values = re.findall(r'name="outcome" value="([^"]+)"', text)
        assert set(values[:4]) == {
            f"found:{cause}:cause" for cause in ("port-blocked", "worn-piston-seal", "wiper-drag", "leg-vacuum")
        }
        # “Found” at the foot leads to the choice.
        assert values[4:] == ["found::cause", "found::by_the_way", "found::danger", "ruled_out", "cant_tell"]
        assert 'href="#which-cause"' in text

    def test_who_cannot_say_which_is_not_made_to(self, bench: Client, ticket: Ticket, at_recheck: Run) -> None:
        form = form_of(at_recheck, "found")
        assert bench.post(url("answer", ticket, at_recheck.pk, "recheck-after-rebuild"), form).status_code == 302
        assert Tick.objects.get(outcome="found").cause is None

    def test_the_cause_that_was_pressed_is_kept_and_shown(self, bench: Client, ticket: Ticket, at_recheck: Run) -> None:
        form = form_of(at_recheck, "found:worn-piston-seal")
        answer = bench.post(url("answer", ticket, at_recheck.pk, "recheck-after-rebuild"), form)
        assert answer.status_code == 302
        cause = Tick.objects.get(outcome="found").cause
        assert cause is not None
        assert cause.key == "worn-piston-seal"
        assert cause.title in bench.get(url("ticket", ticket)).text
        step = bench.get(url("step", ticket, at_recheck.pk, "recheck-after-rebuild")).text
        assert re.search(r'value="found:worn-piston-seal:cause" aria-pressed="true"', step)

    def test_a_cause_this_step_cannot_find_is_refused(self, bench: Client, ticket: Ticket, at_recheck: Run) -> None:
        form = form_of(at_recheck, "found:headset-loose")
        answer = bench.post(url("answer", ticket, at_recheck.pk, "recheck-after-rebuild"), form, **HTMX)
        assert answer.status_code == 422
        assert "cannot find that cause" in answer.text

    def test_a_step_with_one_cause_asks_only_what_it_is(self, bench: Client, ticket: Ticket, run: Run) -> None:
        text = bench.get(url("step", ticket, run.pk, "bleed-legs")).text
        assert re.findall(r'name="outcome" value="([^"]+)"', text) == [
            "found:leg-vacuum:cause", "found::by_the_way", "found::danger", "ruled_out", "cant_tell",
        ]  # fmt: skip
