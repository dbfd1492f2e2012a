"""The demo: two years believable enough that every figure of the Office has something to say, stores and estimates."""

from __future__ import annotations

import datetime as dt
import random
import uuid
from collections.abc import Iterator
from decimal import Decimal
from itertools import pairwise

import pytest
from django.db import connection
from django.db.models import Sum
from django.utils import timezone
from pytest_django.plugin import DjangoDbBlocker

from diagnosis.models import Checklist, Run, Step, Tick
from diagnosis.planning import causes_within_reach
from diagnosis.runs_state import state_of, states_of
from diagnosis.steps import steps_of
from tests.any_reading import any_reading
from tests.made_once import made_once
from workshop.charges.models import FinalCharges
from workshop.demo.making import make_demo
from workshop.demo.wear import ENDED_DAYS_AGO, ROUTINE, life_of_a_fork
from workshop.models import Agreement, Document, PurchaseOrder, Shop, StateMove, StockItem, Ticket, User
from workshop.office.figures.period import last_months
from workshop.office.figures.registry import FIGURES, FigureAsked
from workshop.office.figures.service_life import lives_by_component
from workshop.office.figures.sheet import Tickets
from workshop.office.figures.survival import FEWEST_FOR_A_FIT
from workshop.stock.batch_models import Batch, BatchMovement
from workshop.stock.batches import without_batch
from workshop.stock.moving import levels_of
from workshop.stock.ordering import open_quantities
from workshop.stock.shortages import stores_standing
from workshop.work.bench_proof import finish_bench_work
from workshop.work.moves import LeftOpen
from workshop.work.proof import missing_proof_of
from workshop.work.sent import WAIT, Sent
from workshop.work.ticking import answer_step
from workshop.work.unresolved import PartAnswer, resolve_parts, unresolved_lines
from workshop.work.work import start_checklist, take_onto_the_bench


def test_a_fork_comes_in_again_and_again_and_begins_with_everything_new() -> None:
    for seed in range(50):
        visits = list(life_of_a_fork(random.Random(seed), 3.0))
        assert visits[0].wear is ROUTINE
        assert all(earlier.days_ago - later.days_ago > 20 for earlier, later in pairwise(visits))
        assert visits[-1].days_ago >= ENDED_DAYS_AGO


@pytest.fixture(scope="class")
def _demo(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[None]:
    """One demo for all that looks at it: making it takes a while."""
    with made_once(django_db_blocker):
        make_demo()
        yield


@pytest.mark.django_db
@pytest.mark.usefixtures("_demo")
class TestTheDemo:
    def test_every_figure_says_something_of_it(self) -> None:
        _check_figures()

    def test_it_has_an_order_on_its_way_and_estimates(self) -> None:
        _check_stores()

    def test_its_batches_show_what_a_batch_can_be(self) -> None:
        _check_batches()

    def test_it_is_planned_for_as_large_as_it_is(self) -> None:
        """PostgreSQL took a table for empty that it had seen empty: opening a figure then took minutes."""
        with connection.cursor() as cursor:
            if connection.vendor == "postgresql":
                cursor.execute("SELECT reltuples FROM pg_class WHERE oid = 'workshop_ticket'::regclass")
                assert cursor.fetchone() == (Ticket.objects.count(),)
            else:  # statistics would mislead SQLite: it takes each state of a ticket for equally frequent
                cursor.execute("SELECT count(*) FROM sqlite_master WHERE name LIKE 'sqlite_stat%'")
                assert cursor.fetchone() == (0,)


def _check_stores() -> None:
    """An order partly come, an estimate open, one agreed."""
    order = PurchaseOrder.objects.get()
    still_open = open_quantities(order)
    came = {line.pk: line.ordered - still_open[line.pk] for line in order.lines.all()}
    assert order.closed_at is None
    assert sum(came.values()) > 0
    assert sum(still_open.values()) > 0
    standing = stores_standing(Shop.objects.get())
    assert any(row.missing for row in standing.items), "something is left to order"

    waiting = Ticket.objects.filter(waiting_for="customer")
    estimates = Document.objects.filter(kind="estimate", ticket__in=waiting)
    assert sorted(estimate.answers.count() for estimate in estimates) == [0, 1]
    agreement = Agreement.objects.get()
    assert (agreement.agreed, agreement.amount) == (True, Decimal(agreement.document.data["charges"]["gross"]))

    levels = StockItem.objects.annotate(level=Sum("movements__quantity")).values_list("level", flat=True)
    assert all(level is None or level >= 0 for level in levels)


def _check_figures() -> None:
    shop = Shop.objects.get()
    asked = FigureAsked(shop, last_months(timezone.localdate(), 24))
    for key, kind in FIGURES.items():
        figure = kind.make(asked)
        rows = [row for section in figure.sections for row in section.rows]
        behind = sum(len(value) for row in rows for value in row.values if isinstance(value, Tickets))
        assert behind > (0 if key == "shortages" else 2), key
        assert key == "shortages" or figure.sections[0].plot or figure.sections[1].plot, key
    lives = lives_by_component(shop, last_months(timezone.localdate(), 36), timezone.localdate())
    assert sum(len(told.events) >= FEWEST_FOR_A_FIT for told in lives.values()) >= 3
    _check_that_it_holds_together(shop)
    _check_that_what_left_the_bench_was_closed(shop)
    _check_that_an_open_fork_is_not_ready(shop)


def _check_that_it_holds_together(shop: Shop) -> None:
    old = Ticket.objects.filter(shop=shop, booked_at__lt=timezone.now() - dt.timedelta(days=ENDED_DAYS_AGO - 3))
    booked = list(old.order_by("number").values_list("booked_at", flat=True))
    assert [moment.date() for moment in booked] == sorted(moment.date() for moment in booked)
    assert all(level >= 0 for level in levels_of(StockItem.objects.values_list("pk", flat=True)).values())
    for unit in old.values_list("unit", flat=True).distinct():
        back = StateMove.objects.filter(ticket__unit=unit, to_state=Ticket.State.HANDED_BACK).order_by("ticket__number")
        stays = list(back.values_list("ticket__booked_at", "at"))
        assert all(before[1] < after[0] for before, after in pairwise(stays)), "a fork was in the shop twice at once"
    coils = [run for run in Run.objects.select_related("checklist") if run.facts.get("spring_kind") == "coil"]
    found = [(run, tick.cause.key) for run in coils for tick in run.ticks.all() if tick.cause]
    assert found, "nothing was found in a coil fork"
    for run, cause in found:
        assert cause in causes_within_reach(steps_of(run.checklist), run.facts, run.checklist.priors)
    for final in FinalCharges.objects.all():
        assert final.net + final.tax == final.gross
    assert not Ticket.objects.filter(booked_at__gt=timezone.now()).exists()


def _check_that_what_left_the_bench_was_closed(shop: Shop) -> None:
    """The rules of ready hold for every ticket that the demo's mechanics finished."""
    finished = Ticket.objects.filter(shop=shop, state__in=[Ticket.State.READY, Ticket.State.HANDED_BACK])
    seen = 0
    for ticket in finished.select_related("unit"):
        states = states_of(row.run for row in ticket.ticket_runs.select_related("run__checklist"))
        seen += len(states)
        assert not states or not missing_proof_of(ticket, states), ticket
    assert seen > 100


def _check_that_an_open_fork_is_not_ready(shop: Shop) -> None:
    """The fork that leaks at its seals, gone on with by suggestions until the damper's seal head is found leaking."""
    booked = Ticket.objects.filter(shop=shop, state=Ticket.State.BOOKED_IN, complaints__key="oil-at-seals")
    ticket = Ticket.objects.with_names().get(pk=booked.earliest("number").pk)
    mechanic = User.objects.get(username="mechanic")
    take_onto_the_bench(ticket=ticket, by=mechanic, seen_version=ticket.version)
    ticket = Ticket.objects.with_names().get(pk=ticket.pk)
    run = start_checklist(
        ticket=ticket, checklist=Checklist.objects.get(key="oil-at-seals", is_current=True), by=mechanic
    )
    leaks = False
    while (coming := state_of(Run.objects.get(pk=run.pk)).next) is not None and coming.step.key != "clean-lowers":
        outcome = {"check": "ruled_out", "work": "done", "proof": "proved"}[coming.step.kind]
        found = coming.step.key == "damper-side-leak"
        leaks = leaks or found
        typed = {plan["key"]: any_reading(plan) for plan in coming.step.readings}
        sent = Sent(
            "found" if found else outcome,
            Run.objects.get(pk=run.pk).version,
            uuid.uuid4(),
            typed=typed,
            reasons=dict.fromkeys([*typed, WAIT], "Measured twice"),
        )
        answer_step(shop=shop, number=ticket.number, run_pk=run.pk, step_key=coming.step.key, by=mechanic, sent=sent)
    for step in steps_of(run.checklist):  # and every proof ticked, as an older version of the app would have let
        if step.kind == Step.Kind.PROOF:
            Tick.objects.create(run=run, step=step, outcome="proved", by=mechanic, ticked_at=timezone.now())
    dropped = [PartAnswer(line.pk, None, line.quantity) for line in unresolved_lines(ticket)]
    assert dropped, "every step is done, and nobody has yet said what became of the parts"
    resolve_parts(ticket=ticket, answers=dropped, by=mechanic)
    for reason in ("", "The customer waits outside"):
        ticket.refresh_from_db()
        with pytest.raises(LeftOpen, match=r"The lowers are off.*The foot fasteners are off"):
            finish_bench_work(ticket=ticket, by=mechanic, seen_version=ticket.version, reason_without_proof=reason)
    ticket.refresh_from_db()
    missing = {entry.words for entry in missing_proof_of(ticket)}
    assert leaks
    assert "The damper loses oil" in missing
    assert ticket.state == Ticket.State.ON_THE_BENCH


def _check_batches() -> None:
    today = timezone.localdate()
    there = Batch.objects.filter(kept_level__level__gt=0)
    assert all(batch.number.startswith("DEMO-") for batch in there)
    assert sum(batch.is_over(today) for batch in there) == 1
    opened = [batch for batch in there if batch.opened_on is not None]
    assert opened
    soon = today + dt.timedelta(days=30)
    assert [batch for batch in there if batch.use_by is not None and today <= batch.use_by <= soon]
    used = BatchMovement.objects.filter(movement__part_line__isnull=False)
    assert used.exists()  # the page of a batch has tickets to show
    for item in StockItem.objects.filter(batches__isnull=False).distinct():
        assert without_batch(item) >= 0
