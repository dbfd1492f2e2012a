"""What was found on a unit, at its steps and beside them, and what answers each of it: nothing found is forgotten."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from django.utils import timezone

from diagnosis.layout_plans import DANGER, FINDINGS
from diagnosis.models import Tick
from diagnosis.repairs import Repair, repair_of
from diagnosis.runs_rules import DONE, PROVED
from diagnosis.runs_state import FoundState, RunState, StepState
from workshop.tickets.models import FindingAnswer, FreeFinding, PartLine, Ticket
from workshop.work.adding_parts import is_of_role, role_in_words

How = FindingAnswer.How
_DONE = frozenset({DONE, PROVED})


@dataclass(frozen=True)
class Finding:
    """One finding: of a step (`found`) or free (`free`). `answered` says what answers it, `wanted` what would.

    `said` is the answer that somebody gave and that still holds; None where the bench itself answers it, or nothing.
    """

    token: str
    kind: str
    title: str
    seen: str
    note: str
    by: str
    found: FoundState | None = None
    free: FreeFinding | None = None
    run_pk: int | None = None
    step_key: str = ""
    answered: tuple[str, ...] = ()
    wanted: tuple[str, ...] = ()
    said: FindingAnswer | None = None
    done: tuple[StepState, ...] = ()
    """The steps after it that put it right; `fitted` names the parts that did."""
    fitted: tuple[str, ...] = ()
    awaits_part: bool = False
    """Whether a part of it is on the ticket of which nobody has said what became of it."""

    @property
    def is_danger(self) -> bool:
        return self.kind == DANGER

    @property
    def kind_words(self) -> str:
        return FINDINGS[self.kind]

    @property
    def is_open(self) -> bool:
        """Whether nothing answers it."""
        return not self.answered

    @property
    def is_mended(self) -> bool:
        """Whether it was put right, rather than declined or left."""
        return not self.is_open and (self.said is None or self.said.how == How.MENDED)

    @property
    def is_unsafe(self) -> bool:
        """Whether the unit must not be ridden because of it."""
        return self.is_danger and not self.is_mended

    @property
    def refused_words(self) -> str:
        """The customer's no, in the words that go on the report."""
        return self.said.words if self.said is not None and self.said.how == How.DECLINED else ""

    @property
    def in_words(self) -> str:
        """What was found and, if anything, what the customer said to it."""
        seen = f": {self.seen}" if self.seen else ""
        no = f" The customer said no: {self.refused_words}" if self.refused_words else ""
        return f"{self.title}{seen}{'' if seen.endswith('.') or not no else '.'}{no}"


@dataclass(frozen=True)
class AfterIt:
    """What can be named as having put a finding right: a step done after it, or a part that was fitted."""

    value: str
    words: str


def findings_of(states: Iterable[RunState]) -> list[FoundState]:
    """Every finding of these runs, in the order in which they were made; one that counts in several of them once."""
    found = [finding for state in states for finding in state.found]
    in_order = sorted(found, key=lambda finding: finding.step_state.tick.pk if finding.step_state.tick else 0)
    return list({finding.told_by: finding for finding in reversed(in_order)}.values())[::-1]


def findings_on(ticket: Ticket, states: Sequence[RunState]) -> list[Finding]:
    """Every finding of a ticket with what answers it, those of steps first; three queries, however many there are."""
    return findings_on_each({ticket.pk: states})[ticket.pk]


def findings_on_each(states: Mapping[int, Sequence[RunState]]) -> dict[int, list[Finding]]:
    """The findings of several tickets, by the tickets' keys as their runs are; three queries for all, one if none."""
    free: dict[int, list[FreeFinding]] = defaultdict(list)
    listed = FreeFinding.objects.filter(ticket__in=list(states), withdrawn_at=None)
    for one in listed.select_related("by", "step").order_by("pk"):
        free[one.ticket_id].append(one)
    at_steps = {ticket: findings_of(runs) for ticket, runs in states.items()}
    keys = [ticket for ticket in states if free[ticket] or at_steps[ticket]]
    said, lines = (_said(keys), _part_lines(keys)) if keys else ({}, {})
    found: dict[int, list[Finding]] = {ticket: [] for ticket in states}
    for ticket in keys:
        runs, after = states[ticket], _ticks_that_count(states[ticket])
        parts = lines.get(ticket, [])
        found[ticket] += [_of_step(one, _state_with(runs, one), said, parts, after) for one in at_steps[ticket]]
        found[ticket] += [_of_free(one, runs, said, after) for one in free[ticket]]
    return found


def open_findings(findings: Sequence[Finding]) -> list[Finding]:
    """Those that nothing answers."""
    return [finding for finding in findings if finding.is_open]


def what_came_after(ticket: Ticket, finding: Finding, states: Sequence[RunState]) -> list[AfterIt]:
    """Steps done or proved after a finding, and parts that were used: one of these put it right. One query."""
    return [*steps_after(finding, states), *used_parts(ticket)]


def steps_after(finding: Finding, states: Sequence[RunState]) -> list[AfterIt]:
    """Steps done or proved after a finding."""
    since = _made_at(finding)
    return [
        AfterIt(f"tick-{pk}", f"{state.step.title}, {tick.get_outcome_display().lower()}")
        for pk, (tick, state) in _ticks_that_count(states).items()
        if tick.ticked_at >= since
    ]


def used_parts(ticket: Ticket) -> list[AfterIt]:
    """Parts that were used on the ticket; one query."""
    used = ticket.part_lines.filter(status=PartLine.Status.USED).select_related("part").order_by("pk")
    return [AfterIt(f"part-{line.pk}", f"Part used: {line.title}") for line in used]


def _made_at(finding: Finding) -> dt.datetime:
    if finding.free is not None:
        return finding.free.at
    tick = finding.found.step_state.tick if finding.found else None
    return tick.ticked_at if tick else timezone.now()


def _said(tickets: Sequence[int]) -> dict[str, FindingAnswer]:
    """The latest answer to each finding that was not withdrawn, by the finding's token."""
    answers = FindingAnswer.objects.filter(ticket__in=tickets, withdrawn_at=None).order_by("pk")
    rows = answers.select_related("by", "by_tick__step", "by_part__part")
    return {f"free-{one.free_id}" if one.free_id else f"tick-{one.tick_id}": one for one in rows}


def _part_lines(tickets: Sequence[int]) -> dict[int, list[PartLine]]:
    """Parts that are needed or were used, by their ticket."""
    lines: dict[int, list[PartLine]] = defaultdict(list)
    kept = PartLine.objects.filter(ticket__in=tickets).exclude(status=PartLine.Status.DROPPED).order_by("pk")
    for line in kept.select_related("part", "step"):
        lines[line.ticket_id].append(line)
    return lines


def _ticks_that_count(states: Sequence[RunState]) -> dict[int, tuple[Tick, StepState]]:
    """The work and proofs of the ticket that stand, by the tick in which they were given."""
    return {
        state.tick.counted_from_id or state.tick.pk: (state.tick, state)
        for run_state in states
        for state in run_state.steps
        if state.tick is not None and run_state.outcomes.get(state.key) in _DONE
    }


def _state_with(states: Sequence[RunState], found: FoundState) -> RunState:
    """The run in which a finding stands."""
    pk = found.step_state.tick.run_id if found.step_state.tick else 0
    return next(state for state in states if state.run.pk == pk)


def _of_step(
    found: FoundState,
    state: RunState,
    said: Mapping[str, FindingAnswer],
    lines: Sequence[PartLine],
    after: Mapping[int, tuple[Tick, StepState]],
) -> Finding:
    tick = found.step_state.tick
    assert tick is not None  # noqa: S101  it was found
    token = f"tick-{tick.counted_from_id or tick.pk}"
    repair = repair_of(found.step, [one.step for one in state.steps])
    answer = _still_holds(said.get(token), after)
    its_parts = [line for line in lines if _is_for(line, found, repair)]
    fitted = [line for line in its_parts if line.status == PartLine.Status.USED]
    done, parts = _by_what(answer, after) if answer else _done_for(found, repair, fitted, after)
    answered = _answer_in_words(answer) if answer else tuple(_done_in_words(done, parts))
    return Finding(
        token=token,
        kind=found.kind,
        title=found.cause.title if found.cause else found.step.title,
        seen="" if found.cause else found.step.counts_as_found,
        note=tick.note,
        by=str(tick.by or ""),
        found=found,
        run_pk=tick.run_id,
        step_key=found.step.key,
        answered=answered,
        wanted=tuple(_wanted(repair)),
        said=answer,
        done=tuple(done),
        fitted=tuple(dict.fromkeys(line.title for line in parts)),
        awaits_part=len(fitted) < len(its_parts),
    )


def _of_free(
    free: FreeFinding,
    states: Sequence[RunState],
    said: Mapping[str, FindingAnswer],
    after: Mapping[int, tuple[Tick, StepState]],
) -> Finding:
    token = f"free-{free.pk}"
    answer = _still_holds(said.get(token), after)
    run_pk = next((state.run.pk for state in states if free.step and free.step.key in state.by_key), None)
    return Finding(
        token=token,
        kind=free.kind,
        title=free.place,
        seen=free.text,
        note="",
        by=str(free.by or ""),
        free=free,
        run_pk=run_pk,
        step_key=free.step.key if free.step else "",
        answered=_answer_in_words(answer) if answer else (),
        said=answer,
    )


def _still_holds(answer: FindingAnswer | None, after: Mapping[int, tuple[Tick, StepState]]) -> FindingAnswer | None:
    """What was said, as long as the step still counts and the part is still used by which it was put right."""
    if answer is None or answer.how != How.MENDED:
        return answer
    if answer.by_part is not None:
        return answer if answer.by_part.status == PartLine.Status.USED else None
    tick = answer.by_tick
    return answer if tick is not None and (tick.counted_from_id or tick.pk) in after else None


def _answer_in_words(answer: FindingAnswer) -> tuple[str, ...]:
    if answer.how == How.DECLINED:
        return (f"The customer said no: {answer.words}",)
    if answer.how == How.LEFT:
        who = f" ({answer.by})" if answer.by else ""
        return (f"Released without it: {answer.words}{who}" if answer.words else f"Released without it{who}",)
    by = f"part used: {answer.by_part.title}" if answer.by_part else f"“{answer.by_tick.step.title}”"  # type: ignore[union-attr]
    return (f"Put right by {by}" + (f". {answer.words}" if answer.words else ""),)


def _by_what(
    answer: FindingAnswer, after: Mapping[int, tuple[Tick, StepState]]
) -> tuple[Sequence[StepState], Sequence[PartLine]]:
    """The step or the part by which somebody said that it was put right."""
    tick, part = answer.by_tick, answer.by_part
    given = after.get(tick.counted_from_id or tick.pk) if tick else None
    return [given[1]] if given else [], [part] if part else []


def _done_for(
    found: FoundState,
    repair: Repair,
    fitted: Sequence[PartLine],
    after: Mapping[int, tuple[Tick, StepState]],
) -> tuple[Sequence[StepState], Sequence[PartLine]]:
    """What the bench did that answers a finding: all its steps after it, or a part where it names no step."""
    tick = found.step_state.tick
    origin = (tick.counted_from_id or tick.pk) if tick else 0
    given = {state.key: state for pk, (_, state) in after.items() if pk > origin}
    done = [given[step.key] for step in repair.steps if step.key in given]
    if len(done) < len(repair.steps) or not (done or fitted):
        return [], []
    return done, fitted


def _done_in_words(done: Iterable[StepState], fitted: Iterable[PartLine]) -> Iterator[str]:
    for state in done:
        tick = state.tick
        assert tick is not None  # noqa: S101  it counts
        yield f"{state.step.title}: {tick.get_outcome_display().lower()}, {timezone.localtime(tick.ticked_at):%H:%M}"
    for line in fitted:
        yield f"Part used: {line.title}"


def _is_for(line: PartLine, found: FoundState, repair: Repair) -> bool:
    """Whether a part is one that the finding asked for; another finding may have brought it onto the ticket."""
    own = line.source == PartLine.Source.FINDING and line.step is not None and line.step.key == found.step.key
    return own or any(is_of_role(line, role) for role in repair.parts)


def _wanted(repair: Repair) -> Iterator[str]:
    """What would answer a finding, in words."""
    if repair.steps:
        yield " and ".join(f"“{step.title}”" for step in repair.steps)
    elif repair.parts:
        yield "one of its parts: " + ", ".join(role_in_words(role).lower() for role in repair.parts)
