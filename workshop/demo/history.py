"""Two years behind the demo shop, written in bulk: tickets handed back long ago, as working them would have left them.

Only the demo writes rows past the functions that keep their rules; one by one they would take minutes.
"""

from __future__ import annotations

import datetime as dt
import random
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from django.db.models import F
from django.utils import timezone

from diagnosis.layout import applies
from diagnosis.models import Cause, Checklist, Complaint, Run, Step, Tick
from diagnosis.runs_rules import without_idle_repairs
from diagnosis.steps import steps_of
from specs.models import KitLine, Part, ServiceKit
from workshop.charges.closing import final_charges
from workshop.charges.models import FinalCharges, LabourLine
from workshop.charges.prices import service_prices
from workshop.charges.tax import tax_rules_of
from workshop.charges.ticket_charges import charges_under
from workshop.demo.answering import SMALL_WRENCH, USUAL_NM
from workshop.demo.garage import Owned
from workshop.demo.wear import HOURS_A_WEEK, WearVisit, life_of_a_fork
from workshop.demo.working import worked_through
from workshop.intervals.models import WeeklyHours
from workshop.staff.models import Shop, User
from workshop.stock.models import StockItem, StockMovement
from workshop.tickets.models import PartLine, StateMove, Ticket, TicketEvent, TicketRun
from workshop.tickets.search_text import ticket_search_text
from workshop.torque.models import BoltRecord, TorqueTool

State, Level = Ticket.State, ServiceKit.Level
UNITS = 36
# What takes something apart, and what is part of a service, takes this shop longer than the checklist plans.
_TAKING_APART, _SERVICE = 1.4, 1.2


def _slowness(step: Step) -> float:
    return _TAKING_APART if step.closed_by else _SERVICE if step.services else 1.0


@dataclass
class _Rows:
    """Everything that is written in the end, each kind at once."""

    tickets: list[Ticket] = field(default_factory=list)
    moves: list[StateMove] = field(default_factory=list)
    events: list[TicketEvent] = field(default_factory=list)
    runs: list[tuple[Ticket, Run, dt.datetime]] = field(default_factory=list)
    ticks: list[Tick] = field(default_factory=list)
    bolts: dict[tuple[int, str], BoltRecord] = field(default_factory=dict)  # the latest, by ticket number and bolt
    parts: list[PartLine] = field(default_factory=list)
    labour: list[LabourLine] = field(default_factory=list)
    charges: list[FinalCharges] = field(default_factory=list)


@dataclass(frozen=True)
class _Times:
    """When a ticket of the past came from one state to the next."""

    booked: dt.datetime
    bench: dt.datetime
    waited: dt.datetime | None
    ready: dt.datetime
    back: dt.datetime
    promised_on: dt.date


def make_history(
    *,
    shop: Shop,
    staff: Mapping[str, User],
    owned: Iterable[Owned],
    complaints: Mapping[str, Complaint],
    chance: random.Random,
) -> set[int]:
    """Give forks with an air spring two years of visits. Returns the primary keys of those forks."""
    forks = [one for one in owned if one.unit.kind == "fork" and one.unit.facts().get("spring_kind") == "air"][:UNITS]
    planned: list[tuple[WearVisit, Owned]] = []
    for one in forks:
        hours_a_week = chance.choice(HOURS_A_WEEK)
        visits = list(life_of_a_fork(chance, hours_a_week))
        planned += [(visit, one) for visit in visits]
        since = timezone.localdate() - dt.timedelta(days=round(visits[0].days_ago))
        WeeklyHours.objects.create(unit=one.unit, hours_per_week=hours_a_week, since=since, at=timezone.now())
    writer = _Writer(shop, staff, complaints, chance)
    for visit, one in sorted(planned, key=lambda pair: -pair[0].days_ago):
        writer.add(visit, one)
    writer.write()
    return {one.unit.pk for one in forks}


class _Writer:
    def __init__(
        self, shop: Shop, staff: Mapping[str, User], complaints: Mapping[str, Complaint], chance: random.Random
    ) -> None:
        self.shop, self.staff, self.complaints, self.chance = shop, staff, complaints, chance
        self.rows = _Rows()
        self.causes = {cause.key: cause for cause in Cause.objects.all()}
        self.checklists = {one.complaint.key: one for one in Checklist.objects.filter(is_current=True)
                           .select_related("complaint") if "fork" in one.suits}  # fmt: skip
        self.items = {item.part_id: item for item in StockItem.objects.filter(shop=shop).select_related("part")}
        self.kits: dict[tuple[int, str], KitLine] = {}
        for line in KitLine.objects.select_related("kit", "part"):
            self.kits.setdefault((line.kit.model_id, line.part.role), line)
        self.by_role: dict[str, list[Part]] = defaultdict(list)
        for item in self.items.values():
            self.by_role[item.part.role].append(item.part)
        self.price = service_prices(shop)["fork", Level.LOWERS]
        self.rules = tax_rules_of(shop)
        self.wrench = TorqueTool.objects.filter(shop=shop, number=SMALL_WRENCH).first()

    def add(self, visit: WearVisit, owned: Owned) -> None:
        """One ticket with everything on it, to be written later."""
        times = _times(visit, self.chance)
        mechanic = self.staff[self.chance.choice(("mechanic", "mechanic2"))]
        self.shop.last_ticket_number += 1
        ticket = Ticket(
            shop=self.shop,
            number=self.shop.last_ticket_number,
            customer=owned.customer,
            unit=owned.unit,
            bike=owned.bike,
            complaint_words=visit.wear.words,
            state=State.HANDED_BACK,
            state_since=times.back,
            promised_on=times.promised_on,
            mechanic=mechanic,
            booked_at=times.booked,
            booked_by=self.staff["counter"],
        )
        ticket.search_text = ticket_search_text(ticket)
        self.rows.tickets.append(ticket)
        self._add_moves(ticket, times, mechanic)
        self._add_run(ticket, visit, times, mechanic)
        parts = self._add_parts(ticket, visit, times, mechanic)
        labour = LabourLine(
            ticket=ticket, words="Lowers service", level=Level.LOWERS, price=self.price, by=mechanic, at=times.ready
        )
        self.rows.labour.append(labour)
        charges = charges_under(self.rules, [labour], parts)
        final = final_charges(ticket=ticket, charges=charges, rules=self.rules, by=self.staff["counter"], at=times.back)
        self.rows.charges.append(final)

    def _add_moves(self, ticket: Ticket, times: _Times, mechanic: User) -> None:
        counter = self.staff["counter"]
        path = [
            ("", State.BOOKED_IN, times.booked, counter),
            (State.BOOKED_IN, State.ON_THE_BENCH, times.bench, mechanic),
        ]
        if times.waited is not None:
            path += [(State.ON_THE_BENCH, State.WAITING, times.bench + dt.timedelta(hours=1), mechanic)]
            path += [(State.WAITING, State.ON_THE_BENCH, times.waited, mechanic)]
        path += [
            (State.ON_THE_BENCH, State.READY, times.ready, mechanic),
            (State.READY, State.HANDED_BACK, times.back, counter),
        ]
        for from_state, to_state, at, by in path:
            waiting_for = Ticket.WaitingFor.PARTS if to_state == State.WAITING else ""
            move = StateMove(
                ticket=ticket, from_state=from_state, to_state=to_state, waiting_for=waiting_for, by=by, at=at
            )
            self.rows.moves.append(move)
            values = {"from_state": str(from_state), "to_state": str(to_state), "waiting_for": str(waiting_for)}
            self.rows.events.append(TicketEvent(ticket=ticket, at=at, by=by, kind="moved", values=values))

    def _add_run(self, ticket: Ticket, visit: WearVisit, times: _Times, mechanic: User) -> None:
        """The checklist from the top; once the cause is found, no further checks."""
        checklist = self.checklists.get(visit.wear.complaint)
        if checklist is None:
            return
        run = Run(checklist=checklist, facts=dict(ticket.unit.facts()), started_by=mechanic, ended_at=times.ready)
        steps = without_idle_repairs([one for one in steps_of(checklist) if applies(one, run.facts) != "no"], {})
        tells = [step for step in steps if step.kind == Step.Kind.CHECK and step.ends_search.get(visit.wear.cause)]
        found_at = None
        if tells:
            found_at = self.chance.choices(tells, [step.ends_search[visit.wear.cause] for step in tells])[0]
        at = times.ready - dt.timedelta(minutes=sum(step.minutes for step in steps) * 1.3)
        self.rows.runs.append((ticket, run, at))
        ends = steps.index(found_at) if found_at is not None else len(steps)
        wanted = [step for place, step in enumerate(steps) if step.kind != Step.Kind.CHECK or place <= ends]

        def answer(step: Step) -> str:
            return _outcome(step, step is found_at)

        for step, outcome in worked_through(steps, wanted, run.facts, answer):
            at += dt.timedelta(minutes=max(step.minutes * _slowness(step) * self.chance.uniform(0.7, 1.4), 0.3))
            cause = self.causes.get(visit.wear.cause) if step is found_at else None
            self.rows.ticks.append(Tick(run=run, step=step, outcome=outcome, cause=cause, by=mechanic, ticked_at=at))
            if outcome in (Tick.Outcome.DONE, Tick.Outcome.PROVED):
                self._add_bolts(ticket, run, step, mechanic, at)

    def _add_bolts(self, ticket: Ticket, run: Run, step: Step, mechanic: User, at: dt.datetime) -> None:
        """What the step tightened, with the shop's small wrench."""
        for bolt in step.bolts:
            torque_nm = USUAL_NM[bolt]
            self.rows.bolts[ticket.number, bolt] = BoltRecord(
                ticket=ticket, run=run, step=step, bolt=bolt, torque_nm=torque_nm, typed=f"{torque_nm:g} N·m",
                tool=self.wrench, by=mechanic, at=at,
            )  # fmt: skip

    def _add_parts(self, ticket: Ticket, visit: WearVisit, times: _Times, mechanic: User) -> list[PartLine]:
        made = []
        for role in visit.wear.parts:
            line = self.kits.get((ticket.unit.model_id or 0, role))
            part = line.part if line else next(iter(self.by_role[role]), None)
            if part is None or part.pk not in self.items:
                continue
            quantity = line.quantity if line else Decimal(40 if part.measure == Part.Measure.ML else 1)
            made.append(
                PartLine(
                    ticket=ticket,
                    part=part,
                    quantity=quantity,
                    unit_price=self.items[part.pk].price,
                    source=PartLine.Source.FINDING if visit.wear.cause else PartLine.Source.KIT,
                    status=PartLine.Status.USED,
                    by=mechanic,
                    at=times.ready,
                )
            )
        self.rows.parts += made
        return made

    def write(self) -> None:
        """All rows, each kind in one go, and a delivery behind every part that was used."""
        rows = self.rows
        self.shop.save(update_fields=["last_ticket_number"])
        Ticket.objects.bulk_create(rows.tickets)
        times = [(run, started_at, run.ended_at) for _, run, started_at in rows.runs]
        for run, _, _ in times:
            run.ended_at = None  # making it sets the time of now, and none ends before it began
        Run.objects.bulk_create([run for run, _, _ in times])
        for run, started_at, ended_at in times:
            run.started_at, run.ended_at = started_at, ended_at
        Run.objects.bulk_update([run for run, _, _ in times], ["started_at", "ended_at"])
        Ticket.complaints.through.objects.bulk_create(
            Ticket.complaints.through(ticket=ticket, complaint=run.checklist.complaint) for ticket, run, _ in rows.runs
        )
        TicketRun.objects.bulk_create(TicketRun(ticket=ticket, run=run) for ticket, run, _ in rows.runs)
        for model, made in (
            (StateMove, rows.moves), (TicketEvent, rows.events), (Tick, rows.ticks), (PartLine, rows.parts),
            (BoltRecord, list(rows.bolts.values())), (LabourLine, rows.labour), (FinalCharges, rows.charges),
        ):  # fmt: skip
            model._default_manager.bulk_create(made)  # type: ignore[arg-type]
        Tick.objects.filter(run__in=[run for _, run, _ in rows.runs]).update(received_at=F("ticked_at"))
        self._move_stock()

    def _move_stock(self) -> None:
        used: dict[int, Decimal] = defaultdict(Decimal)
        out = []
        for line in self.rows.parts:
            item = self.items[line.part_id or 0]
            used[item.pk] += line.quantity
            out.append(
                StockMovement(
                    item=item,
                    kind=StockMovement.Kind.USED,
                    quantity=-line.quantity,
                    part_line=line,
                    by=line.by,
                    at=line.at,
                )
            )
        first = min((line.at for line in self.rows.parts), default=timezone.now())
        came = [
            StockMovement(
                item_id=item, kind=StockMovement.Kind.RECEIVED, quantity=quantity, note="Demo deliveries",
                by=self.staff["owner"], at=first - dt.timedelta(days=3),
            )
            for item, quantity in used.items()
        ]  # fmt: skip
        StockMovement.objects.bulk_create([*came, *out])


def _outcome(step: Step, is_found: bool) -> str:
    if step.kind == Step.Kind.WORK:
        return Tick.Outcome.DONE
    if step.kind == Step.Kind.PROOF:
        return Tick.Outcome.PROVED
    return Tick.Outcome.FOUND if is_found else Tick.Outcome.RULED_OUT


def _times(visit: WearVisit, chance: random.Random) -> _Times:
    """Booked in on an open day; one in five waits for parts, and some of those are late."""
    day = timezone.localdate() - dt.timedelta(days=round(visit.days_ago))
    day += dt.timedelta(days={5: 2, 6: 1}.get(day.weekday(), 0))
    booked = timezone.make_aware(dt.datetime.combine(day, dt.time(9 + chance.randint(0, 8), chance.randint(0, 59))))
    bench = booked + dt.timedelta(days=chance.uniform(0.2, 3.0))
    waited = bench + dt.timedelta(days=chance.uniform(1.5, 6.0)) if chance.random() < 0.2 else None
    ready = (waited or bench) + dt.timedelta(hours=chance.uniform(3, 30))
    back = ready + dt.timedelta(days=chance.uniform(0.2, 4.0))
    return _Times(booked, bench, waited, ready, back, day + dt.timedelta(days=chance.randint(4, 7)))
