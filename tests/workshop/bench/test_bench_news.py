"""What others tick shows on a tablet that has the run open; and answers over it, by HTTP."""

from __future__ import annotations

import pytest
from django.test import Client

from diagnosis.models import Run, Tick
from tests.bench_runs import HTMX, answered, arrived, form_of, url
from tests.factories import UserFactory
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
