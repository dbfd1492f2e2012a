"""Noting what no step asks for, and saying what answers a finding. Each write is harmless when it is sent twice."""

from __future__ import annotations

import uuid
from collections.abc import Sequence

from django.db import transaction
from django.utils import timezone

from diagnosis.models import Step, Tick
from diagnosis.runs_state import RunState
from workshop.staff.models import User
from workshop.staff.roles import Right
from workshop.tickets.logbook import log
from workshop.tickets.models import FindingAnswer, FreeFinding, Ticket
from workshop.web.converters import key_from
from workshop.work.findings import Finding, findings_on, what_came_after
from workshop.work.part_lines import hold_open_for_parts

How = FindingAnswer.How


class FindingRefused(ValueError):
    """A finding or its answer cannot be kept; `field` says beside which field the reason belongs."""

    def __init__(self, field: str, reason: str) -> None:
        super().__init__(reason)
        self.field = field


@transaction.atomic
def note_finding(
    *, ticket: Ticket, kind: str, place: str, text: str, by: User, client_id: uuid.UUID, step: Step | None = None
) -> FreeFinding:
    """Note something that was seen. The same `client_id` again changes nothing.

    Raises:
        FindingRefused: what, where or how bad is not said, or the id is another's.
        ValidationError: the ticket is handed back, or a text is too long.
    """
    hold_open_for_parts(ticket)
    stored = FreeFinding.objects.filter(client_id=client_id).first()
    if stored is not None:
        if (stored.ticket_id, stored.place, stored.text) != (ticket.pk, place.strip(), text.strip()):
            raise FindingRefused("", "This form was sent for another finding already. Load the page again.")
        return stored
    if kind not in FreeFinding.Kind.values:
        raise FindingRefused("kind", "Say how bad it is: by the way, or dangerous.")
    for field, typed in (("place", place), ("text", text)):
        if not typed.strip():
            raise FindingRefused(field, "Say where it is." if field == "place" else "Say what it is.")
    made = FreeFinding(
        ticket=ticket, step=step, kind=kind, place=place.strip(), text=text.strip(), client_id=client_id, by=by,
        at=timezone.now(),
    )  # fmt: skip
    made.full_clean(exclude=["ticket", "step", "by", "withdrawn_by"], validate_constraints=False)
    made.save()
    log(ticket=ticket, by=by, kind="finding_noted", values={"finding": str(made), "kind": kind})
    return made


@transaction.atomic
def withdraw_finding(*, finding: FreeFinding, by: User) -> None:
    """It was a mistake: it stands in the logbook and counts no more. Twice is harmless. Raises ValidationError."""
    hold_open_for_parts(finding.ticket)
    stands = FreeFinding.objects.filter(pk=finding.pk, withdrawn_at=None)
    if stands.update(withdrawn_at=timezone.now(), withdrawn_by=by):
        log(ticket=finding.ticket, by=by, kind="finding_withdrawn", values={"finding": str(finding)})


@transaction.atomic
def answer_finding(
    *,
    ticket: Ticket,
    states: Sequence[RunState],
    token: str,
    how: str,
    by: User,
    client_id: uuid.UUID,
    words: str = "",
    put_right_by: str = "",
) -> FindingAnswer:
    """Say what answers a finding; an earlier answer gives way. The same `client_id` again changes nothing.

    Args:
        token: the finding, as `Finding.token`.
        put_right_by: a value of `what_came_after`, for one that was put right.

    Raises:
        FindingRefused: no such finding or answer, something is not said, or this person may not say it.
        ValidationError: the ticket is handed back, or the words are too long.
    """
    hold_open_for_parts(ticket)
    stored = FindingAnswer.objects.filter(client_id=client_id).first()
    if stored is not None:
        if (stored.ticket_id, stored.how) != (ticket.pk, how):
            raise FindingRefused("", "This form was sent for another answer already. Load the page again.")
        return stored
    finding = next((one for one in findings_on(ticket, states) if one.token == token), None)
    if finding is None:
        raise FindingRefused("", "That finding is no longer on this ticket. Load the page again.")
    made = FindingAnswer(ticket=ticket, how=how, words=words.strip(), client_id=client_id, by=by, at=timezone.now())
    if finding.free is not None:
        made.free = finding.free
    else:
        made.tick_id = _key_of(token)
    _check(made, finding, by)
    if how == How.MENDED:
        _name_what_did_it(made, put_right_by, [one.value for one in what_came_after(ticket, finding, states)])
    made.full_clean(exclude=["ticket", "tick", "free", "by_tick", "by_part", "by"], validate_constraints=False)
    _withdraw(ticket, finding)
    made.save()
    values = {"finding": finding.title, "how": how, "words": made.words}
    log(ticket=ticket, by=by, kind="finding_answered", values=values)
    return made


@transaction.atomic
def reopen_finding(*, ticket: Ticket, states: Sequence[RunState], token: str, by: User) -> None:
    """Take back what was said to a finding. Twice is harmless. Raises FindingRefused, ValidationError."""
    hold_open_for_parts(ticket)
    finding = next((one for one in findings_on(ticket, states) if one.token == token), None)
    if finding is None:
        raise FindingRefused("", "That finding is no longer on this ticket. Load the page again.")
    if _withdraw(ticket, finding):
        log(ticket=ticket, by=by, kind="finding_reopened", values={"finding": finding.title})


def _check(answer: FindingAnswer, finding: Finding, by: User) -> None:
    """Who may say what: the customer's no is anybody's to write down; the rest is bench work."""
    if answer.how not in How.values:
        raise FindingRefused("how", "Choose what answers it.")
    if answer.how == How.DECLINED:
        if not answer.words:
            raise FindingRefused("words", "Record the customer’s no. These words go on the report.")
        return
    if not by.may(Right.WORK_AT_BENCH):
        raise FindingRefused("how", "That is for a mechanic or the owner to say.")
    if answer.how == How.LEFT:
        if finding.is_danger:
            raise FindingRefused("how", "A danger never goes without. Put it right, or record the customer’s no.")
        if not answer.words and not by.may(Right.RUN_THE_SHOP):
            raise FindingRefused("words", "Say why it is released without it. Only the owner need not.")


def _name_what_did_it(answer: FindingAnswer, chosen: str, known: Sequence[str]) -> None:
    if chosen not in known:
        raise FindingRefused("put_right_by", "Choose the step or the part that put it right.")
    if chosen.startswith("part-"):
        answer.by_part_id = _key_of(chosen)
    else:
        answer.by_tick = Tick.objects.get(pk=_key_of(chosen))


def _withdraw(ticket: Ticket, finding: Finding) -> int:
    """Every answer to it that stands, withdrawn."""
    answers = ticket.finding_answers.filter(withdrawn_at=None)
    own = answers.filter(free=finding.free) if finding.free else answers.filter(tick=_key_of(finding.token))
    return own.update(withdrawn_at=timezone.now())


def _key_of(token: str) -> int:
    return key_from(token.partition("-")[2]) or 0
