"""What the customer agreed to pay, and whether the work is still inside it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from workshop.charges.models import Agreement, FinalCharges
from workshop.charges.so_far import mark_price_so_far
from workshop.charges.sums import NOTHING
from workshop.charges.ticket_charges import DONE, charges_of
from workshop.issued.models import Document
from workshop.staff.models import User
from workshop.tickets.logbook import log
from workshop.tickets.models import Ticket
from workshop.web.number_words import money_words, plain_money

MOST_ANSWERS_ON_PAGE = 10
"""Answers to one estimate that are kept from the customer's page, so that whoever has the link fills no history."""


class EstimateChanged(ValueError):
    """The answer was to an estimate that a newer one has replaced; nothing is kept."""


class AnsweredMeanwhile(ValueError):
    """Another answer was written down since the page was opened that this one came from; nothing is kept."""

    def __init__(self, last: Agreement) -> None:
        super().__init__("Another answer was saved meanwhile. Look at it; press again if yours is the newer one.")
        self.last = last


@dataclass(frozen=True)
class OverAgreed:
    """Charges beyond what the customer agreed to."""

    gross: Decimal
    limit: Decimal
    currency: str
    of_all: bool = False
    """Whether both are of all of a visit together."""
    country: str = ""
    """Whose way of writing money the words have."""

    @property
    def sums(self) -> str:
        """Price and limit."""
        what = "All of the visit comes to" if self.of_all else "The charges come to"
        return (
            f"{what} {money_words(self.gross, self.currency, self.country)}, the customer agreed to "
            f"{money_words(self.limit, self.currency, self.country)}."
        )

    def __str__(self) -> str:
        return f"{self.sums} Make an estimate and record the customer’s yes, or charge less."


@transaction.atomic
def record_answer(
    *,
    document: Document,
    agreed: bool,
    how: str,
    said_by: str,
    by: User | None,
    seen_digest: str,
    seen_answer: str | None = None,
    note: str = "",
    variant: str = "",
) -> Agreement:
    """Write down a yes or a no to an estimate. The same answer again keeps the first.

    Args:
        seen_digest: the digest of the data of the estimate that was answered.
        variant: the key of the way that was agreed to, of an estimate that offers several.
        seen_answer: the key of the last answer that was on the page, "" for none; None where nobody read a page.

    Raises:
        AnsweredMeanwhile: since then somebody answered otherwise.
        EstimateChanged: it is not the newest estimate, or not what was seen.
        ValidationError: who answered, how, or to which way is missing, the ticket is closed, or the customer's page
            has sent MOST_ANSWERS_ON_PAGE answers to this estimate.
    """
    ticket = (
        Ticket.objects.select_for_update(of=("self",), no_key=True).select_related("shop").get(pk=document.ticket_id)
    )
    if not ticket.is_open:
        raise ValidationError("This ticket is closed. Call the shop.")
    newest = newest_estimate(ticket)
    if newest is None or newest.pk != document.pk or newest.data_digest != seen_digest:
        raise EstimateChanged("There is a newer estimate. Look at it, then answer that one.")
    way = _way(document, variant) if agreed else None
    last = document.answers.last()
    if last is not None and last.agreed == agreed and last.variant_id == (int(way["key"]) if way else None):
        return last
    if last is not None and seen_answer is not None and seen_answer != str(last.pk):
        raise AnsweredMeanwhile(last)
    if how == Agreement.How.PAGE and document.answers.filter(how=how).count() >= MOST_ANSWERS_ON_PAGE:
        raise ValidationError(
            f"You have answered this estimate {MOST_ANSWERS_ON_PAGE} times. Your last answer counts, and this one was "
            "not kept. Please call us to change it."
        )
    answer = Agreement(
        document=document,
        ticket=ticket,
        agreed=agreed,
        variant_id=int(way["key"]) if way else None,
        amount=Decimal((way or document.data)["charges"]["gross"]),
        data_digest=document.data_digest,
        how=how,
        said_by=said_by.strip(),
        note=note.strip(),
        by=by,
        at=timezone.now(),
    )
    answer.full_clean(exclude=["document", "ticket", "by", "variant"])
    answer.save()
    log(
        ticket=ticket,
        by=by,
        kind="estimate_agreed" if agreed else "estimate_declined",
        values={
            "revision": document.revision,
            "amount": plain_money(answer.amount),
            "currency": ticket.shop.currency,
            "how": str(answer.how),
            **({"way": way["name"]} if way else {}),
        },
    )
    return answer


def _way(document: Document, key: str) -> Mapping[str, Any] | None:
    """The way that is agreed to; None where the estimate offers none. Raises ValidationError where that is not said."""
    ways = document.data.get("variants") or []
    found = next((way for way in ways if way["key"] == key), None)
    if found is None and (ways or key):
        raise ValidationError("Say to which way the customer agrees.")
    return found


def newest_estimate(ticket: Ticket) -> Document | None:
    """The estimate that counts: the newest that was issued and not erased."""
    estimates = ticket.documents.filter(kind=Document.Kind.ESTIMATE).order_by("-revision")
    return next((one for one in estimates[:1] if not one.data.get("erased")), None)


def agreed_limit(price_ceiling: Decimal | None, answers: Iterable[Agreement]) -> Decimal | None:
    """The most that may be charged with tax; None where nothing was ever said.

    It is the price ceiling or, where it is more, the newest estimate with a standing yes. The last answer to an
    estimate counts. Where there is neither, a no leaves nothing agreed.
    """
    standing: dict[int, Agreement] = {}
    for answer in sorted(answers, key=lambda answer: answer.pk):
        standing[answer.document_id] = answer
    agreed = [answer for answer in standing.values() if answer.agreed]
    newest = max(agreed, key=lambda answer: answer.document_id).amount if agreed else None
    known = [amount for amount in (price_ceiling, newest) if amount is not None]
    if known:
        return max(known)
    return NOTHING if standing else None


def over_agreed(ticket: Ticket, *, used_only: bool | None = None) -> OverAgreed | None:
    """Whether the ticket's charges are beyond what was agreed, and by how much; None where they are inside."""
    answers = list(ticket.agreements.all())
    limit, left = agreed_limit(ticket.price_ceiling, answers), left_of_all(ticket)
    if limit is None and left is None:
        return None
    return over_limits(ticket, charges_of(ticket, used_only=used_only).gross, answers, left)


def over_limits(
    ticket: Ticket, gross: Decimal, answers: Sequence[Agreement], left: Decimal | None
) -> OverAgreed | None:
    """Whether `gross` is beyond the ticket's own limit, or what its visit's leaves for it. Asks the database nothing.

    A standing yes to an estimate of the ticket is a yes to its price, whatever was said of all of it before.
    """
    limit, shop = agreed_limit(ticket.price_ceiling, answers), ticket.shop
    if limit is not None and gross > limit:
        return OverAgreed(gross, limit, shop.currency, country=shop.country)
    if left is None or ticket.visit is None or gross <= max(left, NOTHING):
        return None
    said_yes = agreed_limit(None, answers)
    if said_yes is not None and gross <= said_yes:
        return None
    ceiling = ticket.visit.price_ceiling or NOTHING
    return OverAgreed(ceiling - left + gross, ceiling, shop.currency, of_all=True, country=shop.country)


def left_of_all(ticket: Ticket) -> Decimal | None:
    """What the price ceiling of its visit leaves for a ticket, below zero where the others come to more; None without
    such a ceiling. No query without a visit, else a fixed number.

    A price with a standing yes of its own is agreed beside the ceiling and is not counted. For one that is ready or
    closed only the others that are count: what is still worked on is asked about before it is ready itself.
    """
    visit = ticket.visit
    if visit is None or visit.price_ceiling is None:
        return None
    others = Ticket.objects.filter(visit=visit).exclude(pk=ticket.pk).prefetch_related("agreements")
    listed = list(others.filter(state__in=DONE) if ticket.state in DONE else others)
    gross = dict(FinalCharges.objects.filter(ticket__in=listed).values_list("ticket", "gross"))
    still = [one for one in listed if one.pk not in gross]
    mark_price_so_far(ticket.shop, still)
    gross |= {one.pk: one.so_far.gross for one in still}  # type: ignore[attr-defined]  # marked just before
    counted = [gross[one.pk] for one in listed if gross[one.pk] > (agreed_limit(None, one.agreements.all()) or NOTHING)]
    return visit.price_ceiling - sum(counted, NOTHING)
