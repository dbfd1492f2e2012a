"""What the page of one step shows, gathered in a fixed number of queries."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

from django.http import Http404
from django.urls import reverse

from diagnosis.cautions import CautionsShown, cautions_shown
from diagnosis.declared import ASSUMED_UNLESS_READ
from diagnosis.evidence import Evidence
from diagnosis.judging import Yardstick
from diagnosis.layout_plans import BOLTS, BY_THE_WAY, CAUSE, DANGER, FINDINGS
from diagnosis.left_out import safety_left_out
from diagnosis.models import Cause, Tick
from diagnosis.runs_causes import kind_of, likeliest_finding
from diagnosis.runs_rules import FOUND, causes_of, lawful_outcomes, needs_of
from diagnosis.runs_state import FoundState, RunState, StepState
from diagnosis.steps import steps_of
from workshop.bench.board import may_work
from workshop.bench.finding_forms import FreeFindingForm
from workshop.bench.job import JobShown
from workshop.bench.phases import phases_of
from workshop.bench.planning import PlannedRun, planned_run
from workshop.bench.step_form import TickForm
from workshop.bench.timers import TimerShown, timers_of
from workshop.bench.unit_now import unit_now
from workshop.signed.standing import ReadThrough, read_through
from workshop.staff.models import Shop, User
from workshop.tickets.models import Ticket
from workshop.torque.models import TorqueTool
from workshop.torque.tools import tools_of
from workshop.web.requests import ShopRequest
from workshop.work.emptying import Emptying, empties, emptying
from workshop.work.findings import Finding, findings_on
from workshop.work.judging import judged_readings
from workshop.work.sent import TOOL_PREFIX
from workshop.work.spring import SpringShown, answer_now, assumed_line, spring_shown
from workshop.work.unsafe import Unsafe
from workshop.work.work import ForkValues, arrival_settings, bench_ticket, fork_values, run_states
from workshop.work.yardsticks import judges_anything, yardsticks

OUTCOME_ICONS = {
    "ruled_out": "slash",
    "found": "target",
    "cant_tell": "question",
    "done": "tick",
    "left_out": "dash",
    "still_pulling": "caution",
    "proved": "ticks",
    "not_proved": "cross",
}
MOST_OTHERS = 4  # tickets named beside the one that is open
FINDING_ICONS = {CAUSE: "target", BY_THE_WAY: "info", DANGER: "caution"}


@dataclass(frozen=True)
class OutcomeButton:
    """One way to answer the step. A finding is sent as “found:<cause>:<kind>”; `is_likeliest` stands first."""

    value: str
    label: str
    icon: str
    is_now: bool
    is_likeliest: bool = False
    is_danger: bool = False


@dataclass(frozen=True)
class StepStanding:
    """Where a run of a ticket stands: what the readings say of the spring, and its plan. Each is looked for once.

    `job` holds all runs of the ticket, `read` among them.
    """

    ticket: Ticket
    read: RunState
    values: ForkValues
    shop: Shop
    job: Sequence[RunState]
    user: User

    @cached_property
    def findings(self) -> list[Finding]:
        """Every finding of the ticket, dangers that hold from here on among them."""
        return findings_on(self.ticket, self.job)

    @cached_property
    def spring(self) -> SpringShown | None:
        on_a_bike = self.ticket.bike_id is not None
        return spring_shown(self.job, self.ticket.unit, self.shop, values=self.values.values, on_a_bike=on_a_bike)

    @cached_property
    def planned(self) -> PlannedRun:
        return self._planned(self.read)

    @cached_property
    def side_by_side(self) -> JobShown:
        """The runs of the ticket as one job."""
        runs = [self.planned if state is self.read else self._planned(state) for state in self.job]
        return JobShown(runs, [state.run.pk for state in self.job].index(self.read.run.pk))

    @property
    def beside(self) -> int:
        """How many ticks there are in the other runs of the ticket."""
        return ticks_in(state.version for state in self.job if state is not self.read)

    def _planned(self, state: RunState) -> PlannedRun:
        return planned_run(state, self.shop, answer_now(self.spring.story) if self.spring else None, self.job)

    def where_the_job_goes_on(self) -> StepStanding:
        """At the run whose next step comes next in the job; here where nothing is left in any."""
        place = self.side_by_side.go_on_with
        return self if place is None else replace(self, read=self.job[place])

    @cached_property
    def needs(self) -> dict[str, frozenset[str]]:
        return needs_of(steps_of(self.read.run.checklist), self.read.run.facts)

    @cached_property
    def causes(self) -> dict[str, Cause]:
        """The causes that this checklist knows, by key."""
        return {cause.key: cause for cause in Cause.objects.filter(key__in=self.read.run.checklist.priors)}

    @cached_property
    def read_through(self) -> ReadThrough:
        """Whether this shop has read the checklist through, in the version that is worked with."""
        return read_through(self.shop, self.read.run.checklist)

    @cached_property
    def tools(self) -> list[TorqueTool]:
        """The torque tools to choose from at a safety-critical bolt."""
        return list(tools_of(self.shop))

    @cached_property
    def others_on_bench(self) -> list[Ticket]:
        """The other tickets that who asks has on the bench; a few, the earliest promise first."""
        mine = Ticket.objects.with_names().filter(shop=self.shop, state=Ticket.State.ON_THE_BENCH, mechanic=self.user)
        return list(mine.exclude(pk=self.ticket.pk).order_by("promised_on", "number")[:MOST_OTHERS])

    def open_at(self, key: str | None) -> StepState:
        """The step of that key; without a key the next one, or the last when nothing is left. Raises Http404."""
        if key is None:
            coming = self.planned.run_state.next
            return coming.step_state if coming else self.read.steps[-1]
        if key not in self.read.by_key:
            raise Http404("This run has no such step.")
        return self.read.by_key[key]


@dataclass(frozen=True)
class StepPage:
    """A step of a run of a ticket, open on the tablet."""

    standing: StepStanding
    state: StepState
    user: User

    @property
    def ticket(self) -> Ticket:
        return self.standing.ticket

    @property
    def values(self) -> ForkValues:
        return self.standing.values

    @property
    def run_state(self) -> RunState:
        """The run as it was read. What is next in it is the handbook's; see `followed`."""
        return self.standing.read

    @property
    def followed(self) -> RunState:
        """The run in the order that the mechanic follows."""
        return self.standing.planned.run_state

    @property
    def is_next(self) -> bool:
        return self.followed.next is not None and self.followed.next.step.key == self.state.key

    @property
    def asked_again(self) -> bool:
        """Whether the step is next although its answer counts: the unit is no longer as that answer left it."""
        return self.is_next and self.state.tick is not None

    @property
    def needs(self) -> frozenset[str]:
        """The steps that must come first on this unit."""
        return self.standing.needs.get(self.state.key, frozenset())

    @property
    def first(self) -> StepState | None:
        """The step that has to be done before this one can be, as the unit is now; None if this one can be done."""
        found = self.run_state.side.first_before(self.state.key)
        return self.run_state.by_key[found.step.key] if found and found.step.key != self.state.key else None

    @property
    def first_is_said(self) -> bool:
        """Whether how the unit is names what comes first already."""
        return bool(self.state.unmet) and self.first is not None

    @property
    def latest(self) -> StepState | None:
        """The answer given last, to show on the step it leads to what came of it."""
        latest = self.run_state.latest
        return latest if latest is not None and latest.key != self.state.key and self.is_next else None

    @property
    def latest_finding(self) -> FoundState | None:
        latest = self.latest
        return next((found for found in self.run_state.found if latest and found.step.key == latest.key), None)

    @property
    def finding(self) -> FoundState | None:
        """What this very step found."""
        return next((found for found in self.run_state.found if found.step.key == self.state.key), None)

    def url(self) -> str:
        return reverse("bench:step", args=[self.ticket.number, self.run_state.run.pk, self.state.key])

    def next_url(self) -> str:
        coming = self.followed.next
        if coming is None:
            return reverse("bench:ticket", args=[self.ticket.number])
        return reverse("bench:step", args=[self.ticket.number, self.run_state.run.pk, coming.step.key])

    def form(self, data: Any = None) -> TickForm:
        """The step's form at the version that is shown."""
        tools = self.standing.tools if self.state.step.bolts else ()
        version, held_against = self.run_state.version, self.held_against(data)
        said = self.run_state.run.said
        return TickForm(
            self.state, self.standing.shop, version, data, tools=tools, held_against=held_against, said=said
        )

    def held_against(self, data: Any = None) -> dict[str, Yardstick]:
        """What the step's readings are held against, with the tools that were chosen."""
        step = self.state.step
        if not judges_anything(step):
            return {}
        tools = {str(tool.pk): tool for tool in self.standing.tools} if step.bolts and data else {}
        chosen = {bolt: tools.get(data.get(TOOL_PREFIX + bolt, "")) for bolt in step.bolts} if tools else {}
        return yardsticks(self.ticket, step, self.values, chosen)

    def judged(self, form: TickForm) -> list[tuple[str, Evidence]]:
        """How the readings stand, typed just now or before."""
        typed = form.typed() if form.is_bound else {}
        return judged_readings(self.standing.shop, self.state, form.held_against, typed)

    def buttons(self) -> list[OutcomeButton]:
        """The answers of a step of this kind; where it is asked again, none of them is pressed yet."""
        now = "" if self.asked_again else self.state.outcome
        return [
            OutcomeButton(value, str(Tick.Outcome(value).label), OUTCOME_ICONS[value], value == now)
            for value in lawful_outcomes(self.state.step)
        ]

    def found_buttons(self) -> list[OutcomeButton]:
        """What a finding at this check can be, one button for each, the likeliest first; none where it is no check."""
        step = self.state.step
        if FOUND not in lawful_outcomes(step):
            return []
        likeliest = likeliest_finding(step)
        able, causes = causes_of(step), self._causes_to_choose_from()
        found = self.state.tick if self.state.outcome == FOUND and not self.asked_again else None
        now = (kind_of(found), found.cause.key if found.cause else "") if found else None
        kinds: list[tuple[str, str, str]] = [(CAUSE, cause.key, cause.title) for cause in causes]
        if causes:
            kinds.append((CAUSE, "", "The cause, but not sure which"))
        elif able:
            kinds.append((CAUSE, able[0], FINDINGS[CAUSE]))
        if likeliest == DANGER:
            kinds += [(DANGER, cause, "Dangerous, and the cause") for cause in able[:1] if not causes]
        kinds += [(kind, "", FINDINGS[kind]) for kind in (BY_THE_WAY, DANGER)]
        first = next(place for place, (kind, _, _) in enumerate(kinds) if kind == likeliest)
        ordered = [kinds[first], *kinds[:first], *kinds[first + 1 :]]
        return [
            OutcomeButton(
                f"{FOUND}:{cause}:{kind}", label, FINDING_ICONS[kind], (kind, cause) == now, not place, kind == DANGER
            )
            for place, (kind, cause, label) in enumerate(ordered)
        ]

    def _causes_to_choose_from(self) -> list[Cause]:
        keys = causes_of(self.state.step)
        if len(keys) < 2:
            return []
        plan = self.standing.planned.plan
        beliefs = plan.beliefs if plan else {}
        within_reach = [key for key in keys if key in beliefs] or keys
        causes = [self.standing.causes[key] for key in within_reach if key in self.standing.causes]
        return sorted(causes, key=lambda cause: -beliefs.get(cause.key, 0.0))

    def _assumed_line(self) -> str:
        """What the spring's answer takes for what hangs and for friction, where the step has fields for it."""
        if not any(plan.get("measures") in ASSUMED_UNLESS_READ for plan in self.state.step.readings):
            return ""
        on_a_bike = self.ticket.bike_id is not None
        return assumed_line(self.run_state, self.standing.spring, self.standing.shop, on_a_bike=on_a_bike)

    def _emptying(self) -> Emptying | None:
        """What letting the air out leaves in this fork, at a step that says it empties it; None elsewhere."""
        facts = self.state.facts
        if facts.get("kind") != "fork" or facts.get("self_equalising") is False or not empties(self.state.step):
            return None  # a chamber with a valve of its own is let out there
        on_a_bike = self.ticket.bike_id is not None
        return emptying(self.run_state, self.standing.spring, self.standing.shop, on_a_bike=on_a_bike)

    def cautions(self) -> CautionsShown:
        """What can hurt here; those that hurt little are in full once a job, at the first step that has them."""
        met = {
            caution["key"]
            for state in self.standing.job
            for one in state.steps
            if one.tick and one.key != self.state.key
            for caution in one.step.cautions
        }
        return cautions_shown(self.state.step.cautions, self.state.facts, met=frozenset(met))

    def context(self) -> dict[str, Any]:
        step = self.state.step
        wanted = [*step.shows, *(BOLTS[bolt] for bolt in step.bolts if BOLTS[bolt] not in step.shows)]
        running = self.state.running_timer
        planned = self.standing.planned
        coming = self.followed.next
        same_steps = self.standing.side_by_side.same_steps(step.key)
        return {
            "page": self,
            "ticket": self.ticket,
            "run_state": self.followed,
            "planned": planned,
            "job": self.standing.side_by_side,
            "beside": self.standing.beside,
            "also_in": self.standing.side_by_side.also_in(step.key),
            "done_in": self.standing.side_by_side.done_in(step.key),
            "wanted_open": self.standing.side_by_side.wanted_open(step.key),
            "spent": planned.learned.step_minutes(step.key, step.minutes),
            "state": self.state,
            "left_out": safety_left_out(self.run_state, self.state),
            "unit_now": unit_now(self.run_state, self.standing.job),
            "buttons": self.buttons(),
            "found_buttons": self.found_buttons(),
            "cautions": self.cautions(),
            "read_through": self.standing.read_through,
            "specs": self.values.written(wanted, self.standing.shop, air_side=self.state.facts.get("air_side")),
            "arrival": arrival_settings(self.ticket),
            "spring": self.standing.spring,
            "decided_by_spring": step.spring_answer,
            "assumed_line": self._assumed_line(),
            "emptying": self._emptying(),
            "timer": TimerShown(running, self.ticket.number) if running else None,
            "other_timers": [
                shown for shown in timers_of(self.standing.job, self.ticket.number) if shown.timer != running
            ],
            "photos": [photo for photo in self.ticket.photos.all() if photo.step_id in same_steps],
            "unsafe": Unsafe(tuple(one.in_words for one in self.standing.findings if one.is_unsafe)),
            "seen_here": [one for one in self.standing.findings if one.free and one.step_key == step.key],
            "seen_form": FreeFindingForm(),
            "place": [entry.key for entry in planned.listed].index(self.state.key) + 1,
            "listed_total": len(planned.listed),
            "phases": phases_of(
                planned.listed,
                shown=step.key,
                coming=coming.step.key if coming else None,
                not_asked=self.run_state.not_asked,
            ),
            "others_on_bench": self.standing.others_on_bench,
            "may_work": may_work(self.user) and self.ticket.state == Ticket.State.ON_THE_BENCH,
        }


def ticks_in(versions: Iterable[int]) -> int:
    """How many ticks runs at these versions have."""
    return sum(version - 1 for version in versions)


def open_step(request: ShopRequest, number: int, run_pk: int, key: str | None) -> StepPage:
    """The step of that key; without a key the next one of the job, or the last when nothing is left. Raises Http404."""
    standing = _standing(request, number, run_pk)
    if key is None:
        standing = standing.where_the_job_goes_on()
    return StepPage(standing, standing.open_at(key), request.user)


def every_step(request: ShopRequest, number: int, run_pk: int) -> list[StepPage]:
    """A page for each step of the run, in handbook order, read together. Raises Http404."""
    standing = _standing(request, number, run_pk)
    return [StepPage(standing, state, request.user) for state in standing.read.steps]


def _standing(request: ShopRequest, number: int, run_pk: int) -> StepStanding:
    ticket = bench_ticket(request.shop, number)
    job = run_states(ticket)
    read = next((state for state in job if state.run.pk == run_pk), None)
    if read is None:
        raise Http404("This ticket has no such run.")
    return StepStanding(ticket, read, fork_values(ticket), request.shop, job, request.user)
