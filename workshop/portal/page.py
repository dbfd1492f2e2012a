"""What a customer sees of their ticket: its state in plain words, papers and pictures, and the next service."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.utils import timezone
from django.utils.translation import gettext, gettext_noop

from workshop.charges.agreeing import newest_estimate
from workshop.charges.models import Agreement
from workshop.documents.common import settings_rows
from workshop.documents.run_block import run_states_printed
from workshop.intervals.next_service import NextService, next_service_of
from workshop.issued.models import Document
from workshop.tickets.models import Photo, Ticket
from workshop.work.in_pieces import Pieces, pieces_of
from workshop.work.leaving import settings_as_it_leaves
from workshop.work.unsafe import Unsafe, unsafe_of

_State = Ticket.State
_PLAIN: Mapping[str, tuple[str, str]] = {
    _State.BOOKED_IN: (
        gettext_noop("It is here and waiting its turn"),
        gettext_noop("Thank you for bringing it to us. We have not started on it yet."),
    ),
    _State.ON_THE_BENCH: (
        gettext_noop("A mechanic is working on it"),
        gettext_noop("We will call you before we do anything that you have not agreed to."),
    ),
    _State.READY: (gettext_noop("It is ready"), gettext_noop("You can collect it whenever we are open.")),
    _State.HANDED_BACK: (
        gettext_noop("You have it back"),
        gettext_noop("Thank you for your trust. If anything knocks, leaks or feels wrong, stop riding and call us."),
    ),
    _State.CALLED_OFF: (
        gettext_noop("The job was cancelled"),
        gettext_noop("Please call us if you have not collected it yet."),
    ),
}
_WAITING: Mapping[str, tuple[str, str]] = {
    Ticket.WaitingFor.PARTS: (
        gettext_noop("It is waiting for parts"),
        gettext_noop("We will continue as soon as they are here."),
    ),
    Ticket.WaitingFor.CUSTOMER: (
        gettext_noop("It is waiting for your answer"),
        gettext_noop("Please call us so that we can continue."),
    ),
}
_TO_ANSWER = (
    gettext_noop("It is waiting for your answer"),
    gettext_noop("Please answer below or call us so that we can continue."),
)
_ANSWERED: Mapping[bool, tuple[str, str]] = {
    True: (
        gettext_noop("We have your answer"),
        gettext_noop("Thank you for agreeing to the estimate. We will continue as soon as it is its turn."),
    ),
    False: (
        gettext_noop("We have your answer"),
        gettext_noop("You declined the estimate. We will call you before we do anything more."),
    ),
}
_SINCE: Mapping[str, str] = {
    _State.READY: gettext_noop("Ready since"),
    _State.HANDED_BACK: gettext_noop("Collected on"),
    _State.CALLED_OFF: gettext_noop("Cancelled on"),
}
# The way through the shop, for the row of stages.
_STAGES = (
    (gettext_noop("Booked in"), (_State.BOOKED_IN,)),
    (gettext_noop("On the bench"), (_State.ON_THE_BENCH, _State.WAITING)),
    (gettext_noop("Ready"), (_State.READY,)),
    (gettext_noop("Collected"), (_State.HANDED_BACK,)),
)


@dataclass(frozen=True)
class Stage:
    """A stage of the way through the shop: over, now, or still to come."""

    label: str
    is_over: bool
    is_now: bool


@dataclass(frozen=True)
class CustomerPage:
    """One ticket as its customer sees it."""

    ticket: Ticket
    headline: str
    detail: str
    stages: Sequence[Stage]
    report: Document | None
    estimate: Document | None
    answer: Agreement | None
    photos: Sequence[Photo]
    next_service: NextService | None
    may_report_hours: bool
    settings: Sequence[tuple[str, str]]
    pieces: Pieces
    unsafe: Unsafe

    @property
    def shows_promise(self) -> bool:
        return self.ticket.state in (_State.BOOKED_IN, _State.ON_THE_BENCH, _State.WAITING)

    @property
    def since_words(self) -> str:
        """What the day says that stands in the place of a promise."""
        since = _SINCE.get(self.ticket.state)
        return gettext(since) if since else ""

    @property
    def report_is_interim(self) -> bool:
        """Whether the newest report was written while the work was going on."""
        return self.report is not None and bool(self.report.data.get("interim"))

    @property
    def photos_of_what_was_found(self) -> Sequence[Photo]:
        """Those that say why the estimate asks for what it does: not of the finished work."""
        return [photo for photo in self.photos if photo.moment != Photo.Moment.AFTER]

    @property
    def may_answer(self) -> bool:
        return self.estimate is not None and self.ticket.is_open


def customer_page(ticket: Ticket, today: dt.date | None = None) -> CustomerPage:
    """The page of a ticket, in a fixed number of queries."""
    still_theirs = ticket.unit.customer_id == ticket.customer_id
    # In mid-repair nobody can say when the next service is.
    may_say = still_theirs and ticket.state in (_State.READY, _State.HANDED_BACK)
    coming = next_service_of(ticket, today or timezone.localdate()) if may_say else None
    estimate = newest_estimate(ticket)
    answer = estimate.answers.select_related("variant").last() if estimate else None
    headline, detail = (gettext(words) for words in _in_plain_words(ticket, estimate, answer))
    return CustomerPage(
        ticket=ticket,
        headline=headline,
        detail=detail,
        stages=_stages(ticket),
        report=report_of(ticket),
        estimate=estimate,
        answer=answer,
        photos=list(ticket.photos.filter(for_customer=True)),
        next_service=coming,
        may_report_hours=still_theirs,
        pieces=pieces_of(ticket),
        unsafe=unsafe_of(ticket),
        settings=_settings_of(ticket) if ticket.state in (_State.READY, _State.HANDED_BACK) else (),
    )


def _in_plain_words(ticket: Ticket, estimate: Document | None, answer: Agreement | None) -> tuple[str, str]:
    """Where it stands, and what there is to do. An answer from before it began to wait is not what it waits for."""
    if not ticket.waiting_for:
        return _PLAIN[ticket.state]
    if ticket.waiting_for != Ticket.WaitingFor.CUSTOMER or estimate is None:
        return _WAITING[ticket.waiting_for]
    if answer is None:
        return _TO_ANSWER
    return _ANSWERED[answer.agreed] if answer.at >= ticket.state_since else _WAITING[ticket.waiting_for]


def _settings_of(ticket: Ticket) -> list[tuple[str, str]]:
    """The settings as it leaves, those that were read; the report prints the same."""
    leaving = settings_as_it_leaves(ticket, run_states_printed(ticket)).settings
    rows = settings_rows(ticket, ticket.shop, leaving)
    return [(row["label"], row["hand_back"]) for row in rows if row["hand_back"]]


def report_of(ticket: Ticket) -> Document | None:
    """The newest issued customer report; none where it was erased."""
    reports = ticket.documents.filter(kind=Document.Kind.CUSTOMER_REPORT).order_by("-revision")
    return next((report for report in reports[:1] if not report.data.get("erased")), None)


def _stages(ticket: Ticket) -> list[Stage]:
    if ticket.state == _State.CALLED_OFF:
        return []
    now = next(place for place, (_, states) in enumerate(_STAGES) if ticket.state in states)
    return [Stage(gettext(label), place < now, place == now) for place, (label, _) in enumerate(_STAGES)]
