"""What a ticket still has to prove before it is ready."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from diagnosis.models import Checklist, Step, Tick
from diagnosis.runs_state import RunState, states_of
from diagnosis.shared_steps import repeated
from diagnosis.steps import current_checklists, steps_of
from diagnosis.unit_order import brought_about_by
from diagnosis.unit_parts import PARTS
from workshop.tickets.models import Ticket
from workshop.torque.models import BOLT_LABELS, BoltRecord
from workshop.work.findings import Finding, findings_on, open_findings

_TIGHTENED = frozenset({"done", "proved"})


@dataclass(frozen=True)
class MissingProof:
    """One thing that is not proved: the words for it, and the run and step where it is done, if a run was begun."""

    words: str
    run_pk: int | None = None
    step_key: str = ""
    is_danger: bool = False
    """Something was opened and not closed, or nobody knows: no reason can take the place of closing it."""
    is_unsaid: bool = False
    """Work was done by a checklist that does not say what its steps open."""
    finding: Finding | None = None
    """What was found and nothing answers, where that is what is missing."""

    @property
    def must_not_ride(self) -> bool:
        """Whether it is a danger that nothing answers: no reason does instead, only its repair or the customer's no."""
        return self.finding is not None and self.finding.is_danger


def missing_proof_of(
    ticket: Ticket,
    states: Sequence[RunState] | None = None,
    current: Sequence[Checklist] | None = None,
    complaints: Collection[int] | None = None,
) -> list[MissingProof]:
    """Proof steps of the ticket's runs without proof, and complaints whose checklist was never begun.

    A proof that several runs share and none has is named once.

    A ticket whose complaints have no checklist has nothing to prove. `states`, `current` and `complaints`, their keys,
    save the queries where the caller has the ticket's runs, the current checklists and its complaints already.
    """
    if states is None:
        states = states_of(row.run for row in ticket.ticket_runs.select_related("run__checklist"))
    missing: list[MissingProof] = []
    named: set[str] = set()
    for run_state, shared in zip(states, repeated(state.side for state in states), strict=True):
        for state in run_state.missing_proof:
            if state.key not in named & shared:  # proved once, it counts in both
                missing.append(MissingProof(state.step.title, run_state.run.pk, state.key))
        named |= {state.key for state in run_state.missing_proof}
    begun = {state.run.checklist.complaint_id for state in states}
    listed = current_checklists() if current is None else current
    wanted = set(ticket.complaint_keys() if complaints is None else complaints) - begun
    unanswered = [
        _unanswered(finding)
        for finding in open_findings(findings_on(ticket, states))
        if finding.is_danger or not finding.awaits_part  # its part is asked about first, and may answer it
    ]
    return [
        *left_open(states),
        *unanswered,
        *bolts_without_record(ticket, states),
        *_never_begun(ticket.unit.kind, wanted, listed),
        *missing,
    ]


def _unanswered(finding: Finding) -> MissingProof:
    said = "Dangerous, and nothing answers it" if finding.is_danger else "Nothing answers it yet"
    seen = f" ({finding.seen.rstrip('.')})" if finding.free else ""
    return MissingProof(f"{finding.title}{seen}: {said[:1].lower()}{said[1:]}", finding.run_pk, finding.step_key,
                        finding=finding)  # fmt: skip


def bolts_without_record(ticket: Ticket, states: Sequence[RunState]) -> Iterator[MissingProof]:
    """Critical bolts that were touched and have no torque, or no tool named, on record; no query where none was."""
    touched: dict[str, tuple[int, str]] = {}
    for state in states:
        for one in state.steps:
            if one.step.bolts and state.outcomes.get(one.key) in _TIGHTENED:
                touched |= {bolt: (state.run.pk, one.key) for bolt in one.step.bolts if bolt not in touched}
    records = {}
    if touched:
        records = {row.bolt: row for row in BoltRecord.objects.filter(ticket=ticket, bolt__in=touched).order_by("pk")}
    for bolt, (run_pk, key) in touched.items():
        if lacks := _lacks(records.get(bolt)):
            yield MissingProof(f"{BOLT_LABELS[bolt]}: {lacks}", run_pk, key)


def _lacks(record: BoltRecord | None) -> str:
    if record is None:
        return "no torque is on record"
    if record.tool_id is None:
        return "no tool is named"
    return "its tool is doubtful, and the second-person check is outstanding" if record.waits_for_second else ""


def left_open(states: Sequence[RunState]) -> Iterator[MissingProof]:
    """What was opened and not closed, or is unknown, and faults that were found and not mended, each once."""
    named: set[str] = set()
    for state in states:
        for part in state.unit.open_parts:
            closing = brought_about_by(part, PARTS[part].closed, state.side.steps)
            if part in named or (not closing and state is not states[-1]):
                continue  # said at the run that can close it
            named.add(part)
            words = PARTS[part].in_words(state.unit.conditions[part])
            key = closing[0].key if closing else ""
            is_danger = not PARTS[part].finding
            yield MissingProof(words[:1].upper() + words[1:], state.run.pk if key else None, key, is_danger)
        if not state.declares_state and any(one.outcome == Tick.Outcome.DONE for one in state.steps):
            title = state.run.checklist.title
            words = f"“{title}” does not say what its steps open, so look that everything is closed"
            yield MissingProof(words, is_unsaid=True)


def _never_begun(kind: str, complaints: Collection[int], current: Sequence[Checklist]) -> Iterator[MissingProof]:
    for checklist in current:
        suits = checklist.complaint_id in complaints and kind in checklist.suits
        if suits and any(step.kind == Step.Kind.PROOF for step in steps_of(checklist)):
            yield MissingProof(f"The checklist “{checklist.title}” was not worked through")


def first_of(missing: Sequence[MissingProof], most: int = 4) -> dict[str, Any]:
    """The first few and how many more there are, for the logbook."""
    return {"missing": [entry.words for entry in missing[:most]], "more": max(len(missing) - most, 0)}


def missing_in_words(missing: Sequence[MissingProof], most: int = 4) -> str:
    """The first few in one line, with how many more there are."""
    named = ", ".join(f"“{entry.words}”" for entry in missing[:most])
    more = len(missing) - most
    return f"{named} and {more} more" if more > 0 else named
