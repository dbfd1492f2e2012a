"""What others tick shows on a tablet that has the run open; and answers over it, by HTTP."""

from __future__ import annotations

import uuid

import pytest
from django.test import Client

from diagnosis.models import Run, Tick
from diagnosis.runs import start_run
from diagnosis.runs_told import tell
from tests.bench_runs import HTMX, answered, arrived, form_of, url
from tests.factories import TicketRunFactory, UserFactory
from tests.shipped import shipped_checklist
from tests.squeezed import squeezed
from workshop.models import Ticket, User

pytestmark = pytest.mark.django_db


def news(client: Client, ticket: Ticket, run: Run, version: int, step: str = "wheel-out") -> tuple[int, str]:
    answer = client.get(url("news", ticket, run.pk), {"version": str(version), "step": step})
    return answer.status_code, answer.text


def test_nothing_new_costs_one_query_beside_who_asks(
    bench: Client, ticket: Ticket, run: Run, django_assert_num_queries: object
) -> None:
    arrived(run)
    with django_assert_num_queries(3):  # type: ignore[operator]  # session, user, version
        assert news(bench, ticket, run, 4) == (204, "")


def test_the_list_and_who_did_what(bench: Client, ticket: Ticket, run: Run, mechanic: User) -> None:
    arrived(run)
    other = UserFactory(shop=mechanic.shop, first_name="Jo", last_name="Fell")
    answered(run, "clean-outside", "done")
    Tick.objects.filter(step__key="clean-outside").update(by=other)
    answered(run, "wheel-out", "done")
    Tick.objects.filter(step__key="wheel-out").update(by=mechanic)
    status, text = news(bench, ticket, run, 4)
    assert status == 200
    assert 'data-news-of="6"' in text
    assert "Jo Fell" in text
    assert text.count("<strong>(this step)</strong>") == 0, "one's own tick is no news"
    assert 'aria-current="step"' in text
    assert 'id="step-form"' not in text, "what is half typed stays as it is"
    assert news(bench, ticket, run, 6)[0] == 204
    assert "(this step)" in news(bench, ticket, run, 4, "clean-outside")[1]


@pytest.mark.parametrize("version", ["", "x", "-1", "9" * 40])
def test_what_is_no_version_gets_the_list(bench: Client, ticket: Ticket, run: Run, version: str) -> None:
    arrived(run)
    answer = bench.get(url("news", ticket, run.pk), {"version": version, "step": "wheel-out"})
    assert answer.status_code == 200
    assert "data-steps" in answer.text


def test_a_run_of_another_shop_and_a_step_that_is_not_there_are_not_found(
    bench: Client, client: Client, ticket: Ticket, run: Run
) -> None:
    assert news(bench, ticket, run, 0, "no-such-step")[0] == 404
    client.force_login(UserFactory(mechanic=True))
    assert news(client, ticket, run, 0)[0] == 404


def test_an_answer_over_anothers_tick_is_saved_and_knows_no_more_than_it_saw(
    bench: Client, ticket: Ticket, run: Run
) -> None:
    arrived(run)
    mine = form_of(run, "done")
    answered(run, "clean-outside", "done")
    answer = bench.post(url("answer", ticket, run.pk, "wheel-out"), mine, **HTMX)
    assert answer.json() == {"saved": True, "version": 4, "next": url("run", ticket, run.pk)}
    assert [tick.step.key for tick in Tick.objects.order_by("pk")][3:] == ["clean-outside", "wheel-out"]


def test_what_is_dangerous_now_is_refused_with_who_made_it_so(
    bench: Client, ticket: Ticket, run: Run, mechanic: User
) -> None:
    arrived(run)
    for key in ("wheel-out", "caliper-off", "all-air-out"):
        answered(run, key, "done")
    mine = form_of(run, "done")
    answered(run, "pressure-and-cycle", "ruled_out")
    Tick.objects.filter(step__key="pressure-and-cycle").update(
        by=UserFactory(shop=mechanic.shop, first_name="Jo", last_name="Fell")
    )
    answer = bench.post(url("answer", ticket, run.pk, "foot-fasteners-off"), mine, **HTMX)
    assert answer.status_code == 422
    assert "there is air in the positive air chamber" in answer.text
    assert "by Jo Fell." in answer.text
    assert not Tick.objects.filter(step__key="foot-fasteners-off").exists()


def test_an_answer_that_rests_on_one_not_in_yet_waits_its_turn(bench: Client, ticket: Ticket, run: Run) -> None:
    arrived(run)
    behind = {"behind": "all-air-out wheel-out"}
    early = bench.post(url("answer", ticket, run.pk, "all-air-out"), form_of(run, "done") | behind, **HTMX)
    assert (early.status_code, Tick.objects.count()) == (424, 3)
    back = bench.post(url("take_back", ticket, run.pk, "record-clicks"), form_of(run, "") | {"behind": "record-clicks"})
    assert (back.status_code, Tick.objects.count()) == (424, 3)
    apart = bench.post(url("answer", ticket, run.pk, "clean-outside"), form_of(run, "done") | behind, **HTMX)
    assert (apart.status_code, Tick.objects.count()) == (200, 4)


def _said(run: Run, condition: str, by: User) -> None:
    fresh = Run.objects.get(pk=run.pk)
    part, _, value = condition.partition("=")
    tell(
        run=fresh, part=part, value=value, by=by, client_id=uuid.uuid4(), seen_version=fresh.version,
        seen_said=fresh.said,
    )  # fmt: skip


def test_what_another_said_of_the_unit_is_news_with_the_line_of_how_it_is_now(
    bench: Client, ticket: Ticket, run: Run, mechanic: User
) -> None:
    arrived(run)
    for key in ("wheel-out", "caliper-off", "all-air-out"):
        answered(run, key, "done")
    seen = {"version": "7", "said": "0", "beside": "0", "step": "foot-fasteners-off"}
    assert bench.get(url("news", ticket, run.pk), seen).status_code == 204
    _said(run, "positive_air=charged", UserFactory(shop=mechanic.shop, first_name="Jo", last_name="Fell"))
    text = squeezed(bench.get(url("news", ticket, run.pk), seen).text)
    assert 'data-news-of="7" data-said="1"' in text
    assert "There is air in the air chambers, said at" in text
    assert "by Jo Fell" in text
    assert "(this step rests on it)" in text
    assert text.count("Not now, it is dangerous:") == 1
    assert "Air chambers charged, as was said" in text
    elsewhere = squeezed(bench.get(url("news", ticket, run.pk), seen | {"step": "clean-outside"}).text)
    assert "rests on it" not in elsewhere
    assert bench.get(url("news", ticket, run.pk), seen | {"said": "1"}).status_code == 204
    assert bench.get(url("news", ticket, run.pk), {"version": "7"}).status_code == 204, (
        "a page from before asks for ticks"
    )


def test_ones_own_word_is_no_news_but_the_line_is_drawn_anew(
    bench: Client, ticket: Ticket, run: Run, mechanic: User
) -> None:
    arrived(run)
    answered(run, "wheel-out", "done")
    _said(run, "wheel=in", mechanic)
    text = bench.get(url("news", ticket, run.pk), {"version": "5", "said": "0", "step": "clean-outside"}).text
    assert "Meanwhile:" not in text
    line = text.partition("unit-now__line")[2].partition("unit-now__otherwise")[0]
    assert "xle loose" in line
    assert "Wheel out" not in line


def test_a_tick_in_a_run_beside_it_is_news_too_and_what_counts_from_here_is_told_once(
    bench: Client, ticket: Ticket, run: Run, mechanic: User
) -> None:
    arrived(run)
    beside = start_run(checklist=shipped_checklist("oil-at-seals"), facts=run.facts, by=mechanic, beside=run)
    TicketRunFactory(ticket=ticket, run=beside)
    seen = {"version": "4", "said": "0", "step": "clean-outside"}
    had = str(beside.version - 1)
    assert bench.get(url("news", ticket, run.pk), seen | {"beside": had}).status_code == 204
    answered(beside, "oil-on-brake", "ruled_out")
    text = squeezed(bench.get(url("news", ticket, run.pk), seen | {"beside": had}).text)
    assert "” ruled out, " in text
    assert f"(in “{beside.checklist.title}”)." in text
    now = str(beside.version)
    assert f'data-beside="{now}"' in text
    assert bench.get(url("news", ticket, run.pk), seen | {"beside": now}).status_code == 204
    answered(run, "clean-outside", "done")
    told = squeezed(bench.get(url("news", ticket, run.pk), seen | {"beside": now}).text)
    title = run.checklist.steps.get(key="clean-outside").title
    assert told.partition("Meanwhile:")[2].partition("</p>")[0].count(title) == 1
