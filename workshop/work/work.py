"""What the bench needs to know of a ticket: its runs, its fork's values, and the checklists that suit it."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from django.db import transaction
from django.db.models import Prefetch
from django.http import Http404

from diagnosis.coverage import is_of_its_own_kind, refusal, what_it_leaves_out
from diagnosis.models import Checklist, Run
from diagnosis.runs import start_run
from diagnosis.runs_order import follow_order
from diagnosis.runs_state import RunState, states_of
from diagnosis.steps import steps_by_checklist
from specs.contradictions import COILS
from specs.expected import not_asked
from specs.facts import FactValue, with_side
from specs.lookup import GeometryGap, SpecWritten, can_geometry, choose, current_values
from specs.models import SpecValue
from specs.physics.air_can import AirCan
from specs.physics.air_spring import AirSpring
from workshop.staff.models import Shop, User
from workshop.suspension.models import SuspensionUnit
from workshop.tickets.access import ticket_of
from workshop.tickets.logbook import log
from workshop.tickets.models import SettingsRecord, Ticket, TicketRun
from workshop.work.moves import move
from workshop.work.spring import spring_of


class NotOnTheBench(ValueError):
    """The ticket is not on the bench, so its checklists are only to be read."""

    def __init__(self, ticket: Ticket) -> None:
        super().__init__(f"This ticket is “{ticket.state_words}”. Start work on it before you continue.")


class CannotPutAway(ValueError):
    """A checklist that was ticked stays with its ticket."""


@dataclass(frozen=True)
class ForkValues:
    """The current spec values of a ticket's unit, and the spring of a fork or the air can of a shock they describe."""

    values: Mapping[str, SpecValue]
    spring: AirSpring | GeometryGap | None
    can: AirCan | GeometryGap | None = None
    no_gap: frozenset[str] = frozenset()  # what such a unit has not, or seldom has

    @property
    def max_pressure_pa(self) -> float | None:
        return self.magnitude("max_pressure")

    def magnitude(self, key: str) -> float | None:
        """A value in SI; None where it is not known."""
        value = self.values.get(key)
        return None if value is None else value.magnitude_si

    def written(self, keys: Iterable[str], shop: Shop, *, air_side: FactValue | None = None) -> list[SpecWritten]:
        """The wanted values as the shop reads them, with their side; a missing one too, where such a unit has it."""
        asked = [key for key in keys if key in self.values or key not in self.no_gap]
        return [
            replace(one.written(shop.unit_for), label=with_side(one.label, one.quantity.key, air_side))
            for one in choose(self.values, asked)
        ]


def bench_ticket(shop: Shop, number: int) -> Ticket:
    """The ticket with what its bench pages show. Raises Http404."""
    settings = Prefetch("settings_records", SettingsRecord.objects.order_by("pk"))  # not by tickets: there is one
    return ticket_of(
        shop,
        number,
        Ticket.objects.with_names()
        .select_related("promise_heard", "bike__leverage_by")
        .prefetch_related("condition_notes", "photos__step", settings),
    )


def run_states(ticket: Ticket) -> list[RunState]:
    """Where each of the ticket's runs stands, oldest first."""
    return states_of(row.run for row in ticket.ticket_runs.select_related("run__checklist"))


def run_of(ticket: Ticket, run_pk: int) -> Run:
    """A run of this ticket. Raises Http404 for a run of another."""
    row = TicketRun.objects.select_related("run__checklist").filter(ticket=ticket, run=run_pk).first()
    if row is None:
        raise Http404
    return row.run


def fork_values(ticket: Ticket) -> ForkValues:
    """The values of the unit's model at its travel, in one query; none where the model is not in the specs."""
    unit = ticket.unit
    no_gap = not_asked(unit.facts())
    if unit.model is None:
        return ForkValues({}, None, no_gap=no_gap)
    values = current_values(unit.model, None if unit.travel_m is None else round(unit.travel_m * 1000))
    can = None
    if unit.kind == "shock" and unit.travel_m is not None and unit.facts().get("spring_kind") not in COILS:
        can = can_geometry(unit.model, unit.travel_m, values=values)
    return ForkValues(values, spring_of(unit, values=values), can, no_gap)


def arrival_settings(ticket: Ticket) -> SettingsRecord | None:
    """The settings as the unit came in; asks no query of a ticket from `bench_ticket`."""
    records = {record.moment: record for record in ticket.settings_records.all()}
    return records.get(SettingsRecord.Moment.ARRIVAL)


@dataclass(frozen=True)
class ChecklistsOffered:
    """Of the current checklists those that a ticket's complaints suggest, the others that suit its kind of unit, and
    why those of its complaints that do not cover such a unit cannot be begun."""

    suggested: Sequence[Checklist]
    others: Sequence[Checklist]
    refused: Sequence[str]


def checklists_for(
    unit: SuspensionUnit, complaints: Collection[int], states: Iterable[RunState], current: Iterable[Checklist]
) -> ChecklistsOffered:
    """What can be begun on a ticket; asks a query only for a unit of a kind of its own."""
    begun = {state.run.checklist.key for state in states}
    offered = [entry for entry in current if entry.complaint.retired_at is None or entry.complaint_id in complaints]
    suited = [entry for entry in offered if unit.kind in entry.suits and entry.key not in begun]
    left_out = not_covered(suited, unit)
    covering = [entry for entry in suited if entry.pk not in left_out]
    return ChecklistsOffered(
        [entry for entry in covering if entry.complaint_id in complaints],
        [entry for entry in covering if entry.complaint_id not in complaints],
        [left_out[entry.pk] for entry in suited if entry.pk in left_out and entry.complaint_id in complaints],
    )


def not_covered(checklists: Sequence[Checklist], unit: SuspensionUnit) -> dict[int, str]:
    """Why each of these checklists that does not cover the unit cannot be begun on it, by its key."""
    facts = unit.facts()
    if not is_of_its_own_kind(facts):
        return {}
    steps = steps_by_checklist(checklists)
    left_out = {entry.pk: (entry.title, what_it_leaves_out(steps[entry.pk], facts)) for entry in checklists}
    return {key: refusal(title, words) for key, (title, words) in left_out.items() if words}


@transaction.atomic
def take_onto_the_bench(*, ticket: Ticket, by: User, seen_version: int) -> None:
    """Raises workshop.work.moves.UnlawfulMove and workshop.web.versions.StaleVersion."""
    move(ticket=ticket, to_state=Ticket.State.ON_THE_BENCH, by=by, seen_version=seen_version)


@transaction.atomic
def start_checklist(*, ticket: Ticket, checklist: Checklist, by: User) -> Run:
    """Begin a checklist on a ticket that is on the bench; one already begun is given back.

    Beside others of the ticket it begins with what they share answered.

    Raises NotOnTheBench, and diagnosis.runs.NotCovered for a unit that the checklist does not cover.
    """
    Ticket.objects.select_for_update(no_key=True).only("pk").get(
        pk=ticket.pk
    )  # of two taps the second finds the first's run
    if ticket.state != Ticket.State.ON_THE_BENCH:
        raise NotOnTheBench(ticket)
    runs = [row.run for row in ticket.ticket_runs.select_related("run__checklist")]
    begun = next((run for run in runs if run.checklist.key == checklist.key), None)
    if begun is not None:
        return begun
    run = start_run(checklist=checklist, facts=ticket.unit.facts(), by=by, beside=runs[0] if runs else None)
    TicketRun.objects.create(ticket=ticket, run=run)
    log(ticket=ticket, by=by, kind="checklist_begun", values={"title": checklist.title})
    return run


@transaction.atomic
def choose_order(*, ticket: Ticket, run: Run, suggested: bool, by: User) -> None:
    """Follow the suggested order from here on, or the handbook's again. Raises NotOnTheBench."""
    if ticket.state != Ticket.State.ON_THE_BENCH:
        raise NotOnTheBench(ticket)
    if follow_order(run=run, suggested=suggested):
        which = "order_suggested" if suggested else "order_handbook"
        log(ticket=ticket, by=by, kind=which, values={"title": run.checklist.title})


@transaction.atomic
def put_away_run(*, ticket: Ticket, run: Run, by: User) -> None:
    """Take a checklist off the ticket that was begun by mistake. Raises CannotPutAway once it has been ticked."""
    Run.objects.select_for_update().only("pk").get(pk=run.pk)
    if run.ticks.filter(counted_from=None).exists() or run.readings.exists() or run.told.exists():
        raise CannotPutAway("This checklist was worked on, so it stays with the ticket.")
    TicketRun.objects.filter(ticket=ticket, run=run).delete()
    run.delete()
    log(ticket=ticket, by=by, kind="checklist_put_away", values={"title": run.checklist.title})
