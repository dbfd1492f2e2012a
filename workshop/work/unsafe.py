"""A unit that leaves although it must not be ridden: what is dangerous on it, and who signed that they know."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from diagnosis.layout_plans import DANGER
from diagnosis.runs_state import RunState, states_of
from workshop.suspension.models import SuspensionUnit
from workshop.tickets.models import FreeFinding, Ticket, TicketEvent, TicketRun
from workshop.tickets.refusals import UnlawfulMove
from workshop.work.findings import Finding, findings_on, findings_on_each

State = Ticket.State
KIND = "back_unsafe"
LONGEST_NAME = 80


@dataclass(frozen=True)
class Unsafe:
    """What must not be ridden, in words, and the name that was signed when it was handed back, if it was."""

    words: tuple[str, ...] = ()
    signed_by: str = ""
    ticket_number: int = 0
    """The ticket it was handed back on, where it is shown at a later visit."""


class Unsigned(UnlawfulMove):
    """It would go back to the customer unsafe, and nobody has signed for it; `unsafe` says what is dangerous."""

    def __init__(self, unsafe: Unsafe) -> None:
        named = ", ".join(f"“{words}”" for words in unsafe.words)
        super().__init__(
            f"It goes back unsafe, not to be ridden: {named}. Whoever takes it signs for that: type their name."
        )
        self.unsafe = unsafe


def unsafe_of(
    ticket: Ticket, states: Sequence[RunState] | None = None, findings: Sequence[Finding] | None = None
) -> Unsafe:
    """What is dangerous on a ticket's unit and was not put right; after hand-back what was written down then.

    `states`, the ticket's runs, and its `findings` save their queries.
    """
    if ticket.state == State.HANDED_BACK:
        line = ticket.events.filter(kind=KIND).last()
        return _from_line(line) if line is not None else Unsafe()
    if states is None:
        states = states_of(row.run for row in ticket.ticket_runs.select_related("run__checklist"))
    listed = findings_on(ticket, states) if findings is None else findings
    return Unsafe(tuple(finding.in_words for finding in listed if finding.is_unsafe))


def mark_unsafe(tickets: Iterable[Ticket]) -> None:
    """Give the open tickets of a list `must_not_ride`, where something dangerous on it was not put right.

    Two queries where nothing dangerous was found on any, a fixed number more where something was.
    """
    listed = {ticket.pk: ticket for ticket in tickets if ticket.state != State.HANDED_BACK}
    free = FreeFinding.objects.filter(ticket__in=list(listed), kind=DANGER, withdrawn_at=None)
    ticked = TicketRun.objects.filter(ticket__in=list(listed), run__ticks__finding=DANGER)
    doubtful = {*free.values_list("ticket", flat=True), *ticked.order_by().values_list("ticket", flat=True)}
    if not doubtful:
        return
    rows = list(TicketRun.objects.filter(ticket__in=doubtful).select_related("run__checklist").order_by("pk"))
    of_run = {state.run.pk: state for state in states_of(row.run for row in rows)}
    states: dict[int, list[RunState]] = {pk: [] for pk in doubtful}
    for row in rows:
        states[row.ticket_id].append(of_run[row.run_id])
    for pk, findings in findings_on_each(states).items():
        listed[pk].must_not_ride = any(finding.is_unsafe for finding in findings)  # type: ignore[attr-defined]


def left_unsafe(unit: SuspensionUnit, before: Ticket | None = None) -> Unsafe:
    """How a unit was handed back unsafe at its last visit, before a ticket; one query."""
    visits = Ticket.objects.filter(unit=unit, state=State.HANDED_BACK)
    if before is not None:
        visits = visits.exclude(pk=before.pk)
    latest = visits.order_by("-number").values("pk")[:1]
    line = TicketEvent.objects.filter(ticket=latest, kind=KIND).select_related("ticket").first()
    return _from_line(line) if line is not None else Unsafe()


def _from_line(line: TicketEvent) -> Unsafe:
    values = line.values
    return Unsafe(tuple(values.get("dangers") or ()), str(values.get("signed_by") or ""), line.ticket.number)
