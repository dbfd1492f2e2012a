"""Why a ticket may want which parts of its model’s kits, and what ended that; see workshop.promise.expected."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from diagnosis.layout import applies
from diagnosis.layout_facts import Facts
from diagnosis.models import Checklist, Tick
from diagnosis.part_chances import weights_by_role
from diagnosis.runs_rules import FOUND
from diagnosis.steps import steps_by_checklist
from specs.models import KitLine, ServiceKit
from workshop.charges.models import Agreement
from workshop.promise.queued import QueuedTicket
from workshop.stock.expected_need import Belief
from workshop.tickets.models import PartLine, Ticket, TicketRun
from workshop.work.adding_parts import role_of_part
from workshop.work.parts_learned import PartsLearned
from workshop.work.service_kits import service_level_of
from workshop.work.succession import Succession, marked

Source, Status = PartLine.Source, PartLine.Status
OF_A_SERVICE = Belief(took=4.75, tickets=5.0)
"""A service takes what its kit lists, but for what is judged good enough: the project’s choice, no published source."""
OF_NOTHING_KNOWN = Belief(took=1.0, tickets=2.0)
"""Laplace’s rule of succession: one ticket that took it, and one that did not."""
_LEVELS = {level: place for place, level in enumerate(ServiceKit.Level.values)}


class Reason(NamedTuple):
    """Why a part may be wanted: what is believed of it before the shop’s own tickets, under which they are counted."""

    line: KitLine
    belief: Belief
    complaint: int | None
    is_search: bool


@dataclass(frozen=True)
class Ended:
    """What ended the expectation of tickets: parts on them, causes found, a no."""

    on_ticket: Mapping[int, Collection[int]]
    asked_otherwise: Collection[int]
    any_line: Collection[int]
    searched: Collection[tuple[int, int]]
    by_a_no: Collection[int]

    @classmethod
    def of(cls, tickets: Collection[int]) -> Ended:
        read_lines = PartLine.objects.filter(ticket__in=tickets).order_by()
        on_ticket: dict[int, set[int]] = defaultdict(set)
        kept = []
        for ticket, part, instead_of, source, status in read_lines.values_list(
            "ticket", "part", "instead_of", "source", "status"
        ):
            on_ticket[ticket] |= {pk for pk in (part, instead_of) if pk is not None}
            if status != Status.DROPPED:
                kept.append((ticket, source))
        read = TicketRun.objects.filter(ticket__in=tickets).values_list("run", "ticket", "run__checklist__complaint")
        runs = {run: (ticket, complaint) for run, ticket, complaint in read}
        latest: dict[tuple[int, int], bool] = {}  # whether the newest tick of a step found a cause, by run and step
        ticks = Tick.objects.filter(run__in=runs).order_by("pk").values_list("run", "step", "outcome", "cause")
        for run, step, outcome, cause in ticks:
            latest[run, step] = outcome == FOUND and cause is not None
        answers = Agreement.objects.filter(ticket__in=tickets).order_by().values_list("pk", "ticket", "agreed")
        last = {ticket: agreed for _, ticket, agreed in sorted(answers)}
        return cls(
            on_ticket=on_ticket,
            asked_otherwise={ticket for ticket, source in kept if source != Source.KIT},
            any_line={ticket for ticket, _ in kept},
            searched={runs[run] for (run, _), found in latest.items() if found},
            by_a_no={ticket for ticket, agreed in last.items() if not agreed},
        )

    def is_over(self, ticket: int, reason: Reason, succession: Succession) -> bool:
        """Whether a reason holds no longer on a ticket; a part that stands there for another is that other."""
        if succession.is_here(reason.line.part_id, self.on_ticket.get(ticket, ())):
            return True
        if reason.complaint is None:
            return ticket in self.any_line
        return reason.is_search and (ticket in self.asked_otherwise or (ticket, reason.complaint) in self.searched)


class Reasons:
    """Why a unit of a model may need which parts of its kits, each complaint and model looked at once."""

    def __init__(self, kits: Mapping[int, Sequence[KitLine]], checklists: Iterable[Checklist]) -> None:
        self.kits = kits
        self.listed: dict[int, list[Checklist]] = defaultdict(list)
        for checklist in checklists:
            self.listed[checklist.complaint_id].append(checklist)
        self.known: dict[tuple[int | None, int, str], list[Reason]] = {}

    def of(self, ticket: QueuedTicket, complaints: Iterable[int]) -> Iterator[Reason]:
        """By the complaints that a list in use knows for its kind of unit; where there are none, by nothing known."""
        model = ticket.model_pk or 0
        chosen = [one for one in complaints if any(ticket.kind in listed.suits for listed in self.listed.get(one, ()))]
        nothing_known: list[int | None] = [None]
        for complaint in chosen or nothing_known:
            key = (complaint, model, ticket.kind)
            if key not in self.known:
                self.known[key] = list(self._of(*key))
            yield from self.known[key]

    def _of(self, complaint: int | None, model: int, kind: str) -> Iterator[Reason]:
        lines = self.kits[model]
        if complaint is None:
            for line in lines:
                if _LEVELS[line.kit.level] == min(_LEVELS[one.kit.level] for one in lines):
                    yield Reason(line, OF_NOTHING_KNOWN, None, False)
            return
        suited = [one for one in self.listed[complaint] if kind in one.suits]
        facts: Facts = {**lines[0].kit.model.facts(), "kind": kind}
        for checklist in suited:
            if checklist.complaint.is_routine:
                level = service_level_of(steps_by_checklist([checklist])[checklist.pk], facts)
                for line in lines:
                    if line.kit.level == level:
                        yield Reason(line, OF_A_SERVICE, complaint, False)
            else:
                yield from self._of_search(checklist, lines, facts)

    def _of_search(self, checklist: Checklist, lines: Sequence[KitLine], facts: Facts) -> Iterator[Reason]:
        steps = [one for one in steps_by_checklist([checklist])[checklist.pk] if applies(one, facts) != "no"]
        together = sum(checklist.priors.values())
        weights: dict[str, float] = defaultdict(float)
        for role, weight in weights_by_role(checklist.priors, steps).items():
            weights[role_of_part(role)] += weight
        seen: set[str] = set()
        for line in lines:  # the smallest service that has a part of the role says which, and how much
            if together and line.part.role not in seen:
                seen.add(line.part.role)
                belief = Belief(min(weights[line.part.role], together), together)
                yield Reason(line, belief, checklist.complaint_id, True)


def chance_of(reason: Reason, kind: str, learned: PartsLearned) -> float:
    return reason.belief.after(*learned.of((reason.complaint, kind), reason.line.part.role))


def complaints_of(tickets: Collection[int]) -> dict[int, list[int]]:
    rows = Ticket.complaints.through.objects.filter(ticket__in=tickets).order_by("complaint__position", "pk")
    found: dict[int, list[int]] = defaultdict(list)
    for ticket, complaint in rows.values_list("ticket", "complaint"):
        found[ticket].append(complaint)
    return found


def kits_of(models: Collection[int]) -> dict[int, list[KitLine]]:
    """The lines of each model’s kits, those of the smallest service first; one query."""
    lines: dict[int, list[KitLine]] = defaultdict(list)
    of_models = marked(KitLine.objects.filter(kit__model__in=models))
    for line in of_models.select_related("part", "kit__model").order_by("pk"):
        lines[line.kit.model_id].append(line)
    return {model: sorted(its, key=lambda line: _LEVELS[line.kit.level]) for model, its in lines.items()}
