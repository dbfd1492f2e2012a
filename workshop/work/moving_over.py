"""A ticket that was booked under the wrong customer, fork or bike goes to the right one."""

from __future__ import annotations

from dataclasses import dataclass

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Sum
from django.utils import timezone

from diagnosis.models import Run
from specs.facts import FACTS
from workshop.charges.models import Agreement, FinalCharges
from workshop.customers.merged import who_stands
from workshop.customers.models import Bike, Customer
from workshop.customers.privacy_models import Erasure
from workshop.links.links import withdraw_link
from workshop.staff.models import User
from workshop.suspension.fitting import give_to
from workshop.suspension.models import Fitting, SuspensionUnit
from workshop.tickets.booking import hold_numbers
from workshop.tickets.logbook import log
from workshop.tickets.models import StoodUnder, Ticket
from workshop.tickets.one_open import OpenElsewhere, count_the_next, open_beside
from workshop.tickets.refusals import UnlawfulMove
from workshop.tickets.visits import leave_visit, others_of
from workshop.web.versions import take_version

LONGEST_REASON = 200


@dataclass(frozen=True)
class Rightly:
    """Whose ticket it is, of which fork or shock, and the bike it came on."""

    customer: Customer
    unit: SuspensionUnit
    bike: Bike | None = None


class AnswersOfAnother(UnlawfulMove):
    """An estimate of the ticket was answered, or something paid: whether by the right customer, a person must say."""

    def __init__(self, ticket: Ticket, rightly: Rightly) -> None:
        super().__init__(
            f"An estimate of ticket {ticket.number} was answered, or something paid for it, while it stood under "
            f"{ticket.customer}. Tick that this was {rightly.customer}; was it not, call this ticket off and book it "
            "in anew."
        )


@transaction.atomic
def move_over(
    *,
    ticket: Ticket,
    by: User | None,
    seen_version: int,
    rightly: Rightly,
    reason: str,
    answers_are_theirs: bool = False,
) -> Ticket:
    """Put a ticket under the customer, the fork or shock and the bike it belongs to.

    The ticket's own unit and bike go along to another customer where they are named again: they were entered under
    the wrong one. Documents stay as they were printed, links of the earlier customer end, and the logbook says who,
    when and why.

    Args:
        answers_are_theirs: somebody said that an estimate was answered, and a deposit paid, by the right customer.

    Raises:
        UnlawfulMove: charges are frozen, a checklist was begun on a fork that comes apart otherwise, and the like.
        AnswersOfAnother: see there.
        OpenElsewhere: the right fork is in the shop already, on another ticket.
        ValidationError: no reason, or things of somebody else.
        StaleVersion: somebody changed the ticket after it was opened.
    """
    hold_numbers(ticket.shop)  # whoever books the right fork in, or opens another ticket of it, queues here
    take_version(ticket, seen_version)
    if not reason.strip():
        raise ValidationError({"reason": "Say why it is moved."})
    before = Rightly(ticket.customer, ticket.unit, ticket.bike)
    if before == rightly:
        raise ValidationError("It stands there already. Choose what is to be different.")
    if rightly.customer != before.customer or rightly.unit != before.unit:
        _check_not_closed(ticket)
        _check_persons(ticket, rightly, answers_are_theirs=answers_are_theirs)
    _check_things(ticket, rightly)
    if rightly.customer != before.customer:
        _take_along(ticket, rightly, by)
    if rightly.unit != before.unit:
        _check_unit(ticket, rightly.unit)
        ticket.doubled_at = None
    ticket.customer, ticket.unit, ticket.bike = rightly.customer, rightly.unit, rightly.bike
    ticket.save(update_fields=["customer", "unit", "bike", "doubled_at"])
    if rightly.customer != before.customer and (others := others_of(ticket)):
        leave_visit(ticket=ticket, others=others, by=by, reason=reason)
    if rightly.unit != before.unit:
        count_the_next(Ticket(pk=ticket.pk, unit=before.unit))
    if rightly.customer != before.customer:
        StoodUnder.objects.create(ticket=ticket, customer=before.customer, until=timezone.now(), by=by)
        for link in ticket.customer_links.filter(withdrawn_at=None):
            withdraw_link(link=link, by=by)
        _call_off_messages(ticket)
    said = {"reason": reason.strip()[:LONGEST_REASON]}
    log(ticket=ticket, by=by, kind="put_right", values=said, changes=_changes(before, rightly))
    return ticket


def why_it_stays(ticket: Ticket) -> str:
    """Why customer and fork of a ticket cannot be changed, whatever is chosen; empty where they can. Two queries."""
    if FinalCharges.objects.filter(ticket=ticket).exists():
        return (
            f"Ticket {ticket.number} was charged when it was handed back, and what was charged stays as it was: its "
            "customer and its fork or shock stay too. The bike can still be put right."
        )
    if ticket.receipt_shares.aggregate(gross=Sum("gross"))["gross"]:
        return (
            f"A receipt for ticket {ticket.number} has the customer’s name on it. Correct it by a credit note first. "
            "The bike can still be put right."
        )
    if ticket.state == Ticket.State.HANDED_BACK:
        said = f"Ticket {ticket.number} is handed back: its customer and its fork or shock stay."
        return f"{said} The bike can still be put right."
    return ""


def was_answered_or_paid(ticket: Ticket) -> bool:
    """Whether somebody, as the ticket's customer, answered an estimate or paid something. Two queries at most."""
    return Agreement.objects.filter(ticket=ticket).exists() or ticket.payments.exists()


def _check_not_closed(ticket: Ticket) -> None:
    if words := why_it_stays(ticket):
        raise UnlawfulMove(words)


def _check_persons(ticket: Ticket, rightly: Rightly, *, answers_are_theirs: bool) -> None:
    customer = rightly.customer
    if (stands := who_stands(customer)) != customer:
        raise ValidationError(f"{customer} was just merged into {stands}. Choose that record.")
    if customer.shop_id != ticket.shop_id:
        raise ValidationError("Choose a customer of this shop.")
    if customer == ticket.customer:
        return
    if Erasure.objects.filter(customer__in=[customer, ticket.customer]).exists():
        raise UnlawfulMove("A person who was erased keeps no new tickets and gives none away.")
    if not answers_are_theirs and was_answered_or_paid(ticket):
        raise AnswersOfAnother(ticket, rightly)


def _check_things(ticket: Ticket, rightly: Rightly) -> None:
    """Both are the right customer's, or the ticket's own, which go along."""
    customer, unit, bike = rightly.customer, rightly.unit, rightly.bike
    if unit.shop_id != ticket.shop_id or (unit.customer_id != customer.pk and unit != ticket.unit):
        raise ValidationError({"unit": f"{unit} belongs to {unit.customer}. Choose one of {customer}’s."})
    if bike is not None and bike.customer_id != customer.pk and bike != ticket.bike:
        raise ValidationError({"bike": f"{bike} belongs to another customer."})


def _take_along(ticket: Ticket, rightly: Rightly, by: User | None) -> None:
    """The ticket's own bike and unit pass to the right customer, the bike first, so that the unit stays on it."""
    customer, unit, bike = rightly.customer, rightly.unit, rightly.bike
    if bike is not None and bike.customer_id != customer.pk:
        others = Ticket.objects.filter(bike=bike).exclude(pk=ticket.pk)
        if others.exists() or Fitting.objects.filter(bike=bike).exclude(unit=ticket.unit).exists():
            said = f"{bike} has been here with other things of {bike.customer}."
            raise ValidationError({"bike": f"{said} Choose one of {customer}’s bikes."})
        bike.customer = customer
        bike.version += 1
        bike.save(update_fields=["customer", "version"])
    if unit.customer_id != customer.pk:
        # With tickets of its own from before it was the earlier customer's, and changed hands.
        new = not Ticket.objects.filter(unit=unit).exclude(pk=ticket.pk).exists()
        give_to(unit=unit, customer=customer, on=timezone.localdate(), by=by, never_theirs=new)


def _check_unit(ticket: Ticket, unit: SuspensionUnit) -> None:
    for inside in open_beside(Ticket(pk=ticket.pk, unit=unit))[:1] if ticket.is_open else []:
        raise OpenElsewhere(inside)
    for run in Run.objects.filter(pk__in=ticket.ticket_runs.values("run")).select_related("checklist"):
        facts = unit.facts()
        differ = sorted(FACTS[key].label.lower() for key in FACTS if run.facts.get(key) != facts.get(key))
        if differ:
            raise UnlawfulMove(
                f"“{run.checklist.title}” was begun on this ticket for a {ticket.unit.kind} that comes apart otherwise "
                f"than {unit}: {', '.join(differ)}. Put that checklist away first; was it worked on, call this ticket "
                "off and book the right one in."
            )


def _call_off_messages(ticket: Ticket) -> None:
    """What waits to be sent to the earlier customer about this ticket is not sent."""
    for contact in ticket.contacts.filter(message__state="queued").select_related("message"):
        if (message := contact.message) is not None:  # asked again as it is written: it may be on its way by now
            waiting = type(message)._default_manager.filter(pk=message.pk, state="queued")
            waiting.update(state="called_off", problem="The ticket was put under another customer.")


def _changes(before: Rightly, after: Rightly) -> dict[str, list[str]]:
    both = {
        "customer": [before.customer.name, after.customer.name],
        "unit": [_unit_words(before.unit), _unit_words(after.unit)],
        "bike": ["" if bike is None else str(bike) for bike in (before.bike, after.bike)],
    }
    differ = {"customer": before.customer != after.customer, "unit": before.unit != after.unit,
              "bike": before.bike != after.bike}  # fmt: skip
    return {key: words for key, words in both.items() if differ[key]}


def _unit_words(unit: SuspensionUnit) -> str:
    return f"{unit.title}, {unit.serial or 'no serial'}"
