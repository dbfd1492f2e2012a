"""The findings of a ticket as its bench page shows them, each with the form that answers it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from diagnosis.runs_state import RunState
from workshop.bench.finding_forms import FindingAnswerForm, FindingShown
from workshop.staff.models import User
from workshop.staff.roles import Right
from workshop.tickets.models import Ticket
from workshop.work.findings import AfterIt, Finding, findings_on, steps_after, used_parts


def shown_findings(
    ticket: Ticket,
    states: Sequence[RunState],
    user: User,
    refused: Mapping[str, FindingAnswerForm] | None = None,
    findings: Sequence[Finding] | None = None,
) -> list[FindingShown]:
    """Every finding with its form; refused forms take the place of empty ones. One query more than the findings."""
    listed = findings_on(ticket, states) if findings is None else findings
    may = ticket.state != Ticket.State.HANDED_BACK
    bench = user.may(Right.WORK_AT_BENCH)
    parts: list[AfterIt] = used_parts(ticket) if listed and may and bench else []
    shown = []
    for finding in listed:
        form = (refused or {}).get(finding.token)
        if form is None and may:
            form = FindingAnswerForm(finding, [*steps_after(finding, states), *parts] if bench else [])
        shown.append(FindingShown(finding, form))
    return shown
