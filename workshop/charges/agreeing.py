"""What the customer agreed to pay, and whether the work is still inside it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from workshop.charges.models import Agreement
from workshop.charges.sums import NOTHING
from workshop.charges.ticket_charges import charges_of
from workshop.issued.models import Document
from workshop.staff.models import User
from workshop.tickets.logbook import log
from workshop.tickets.models import Ticket
from workshop.web.number_words import money_words, plain_money


class EstimateChanged(ValueError):
    """The answer was to an estimate that a newer one has replaced; nothing is kept."""


class AnsweredMeanwhile(ValueError):
    """Another answer was written down since the page was opened that this one came from; nothing is kept."""

    def __init__(self, last: Agreement) -> None:
        super().__init__(
            "Another answer was written down meanwhile. Look at it; press again if yours is the newer one."
        )
        self.last = last


@dataclass(frozen=True)
class OverAgreed:
    """Charges beyond what the customer agreed to."""

    gross: Decimal
    limit: Decimal
    currency: str

    @property
    def sums(self) -> str:
        """Price and limit."""
        return (
            f"The charges come to {money_words(self.gross, self.currency)}, the customer agreed to "
            f"{money_words(self.limit, self.currency)}."
        )

    def __str__(self) -> str:
        return f"{self.sums} Make an estimate and write down the customer’s yes, or charge less."


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
) -> Agreement:
    """Write down a yes or a no to an estimate. The same answer again keeps the first.

    Args:
        seen_digest: the digest of the data of the estimate that was answered.
        seen_answer: the key of the last answer that was on the page, "" for none; None where nobody read a page.

    Raises:
        AnsweredMeanwhile: since then somebody answered otherwise.
        EstimateChanged: it is not the newest estimate, or not what was seen.
        ValidationError: who answered or how is missing, or the ticket is closed.
    """
    ticket = Ticket.objects.select_for_update(of=("self",)).select_related("shop").get(pk=document.ticket_id)
    if not ticket.is_open:
        raise ValidationError("This ticket is closed. Call the shop.")
    newest = newest_estimate(ticket)
    if newest is None or newest.pk != document.pk or newest.data_digest != seen_digest:
        raise EstimateChanged("There is a newer estimate. Look at it, then answer that one.")
    last = document.answers.last()
    if last is not None and last.agreed == agreed:
        return last
    if last is not None and seen_answer is not None and seen_answer != str(last.pk):
        raise AnsweredMeanwhile(last)
    answer = Agreement(
        document=document,
        ticket=ticket,
        agreed=agreed,
        amount=Decimal(document.data["charges"]["gross"]),
        data_digest=document.data_digest,
        how=how,
        said_by=said_by.strip(),
        note=note.strip(),
        by=by,
        at=timezone.now(),
    )
    answer.full_clean(exclude=["document", "ticket", "by"])
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
        },
    )
    return answer


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
    limit = agreed_limit(ticket.price_ceiling, ticket.agreements.all())
    if limit is None:
        return None
    gross = charges_of(ticket, used_only=used_only).gross
    return OverAgreed(gross, limit, ticket.shop.currency) if gross > limit else None
