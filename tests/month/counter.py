"""The counter of the played month: booking in, answers to estimates, handing over, money, what comes back."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

from tests.factories import CustomerFactory, DocumentFactory, SuspensionUnitFactory
from tests.known import known
from tests.month.the_play import Job, Play
from tests.month.the_shop import LABOUR_PERCENT, PARTS_PERCENT
from tests.month.truths import gross_cents
from workshop.charges.agreeing import record_answer
from workshop.charges.labour import drop_labour
from workshop.charges.tax_rates import set_tax_rate
from workshop.documents.estimate import gather_estimate
from workshop.issued.models import Document
from workshop.models import Agreement, Ticket
from workshop.promise.honest import earliest_day
from workshop.tickets.booking import AgreedAtBooking, book_in
from workshop.tickets.settings_record import Settings
from workshop.till.crediting import credit_part, creditable
from workshop.till.models import HandOver
from workshop.till.standing import open_sums, standing_hand_over
from workshop.till.taking import PaidPart, take_payment
from workshop.work.hand_over import HowPaid, hand_over
from workshop.work.moves import move
from workshop.work.taking_back import open_again
from workshop.work.unresolved import PartAnswer, resolve_parts, unresolved_lines

TAXED_ANEW = Decimal(22), Decimal(12)


def book(play: Play, *, squeezed: bool = False) -> Ticket:
    """A fork comes in for a service, for something that is wrong, or for nobody knows what; the day is an honest one.

    A job squeezed in is promised for the next working day, whatever is queued.
    """
    made, chance = play.made, play.chance
    customer = CustomerFactory(shop=made.shop)
    model = chance.choice(made.models)
    unit = SuspensionUnitFactory(shop=made.shop, customer=customer, model=model)
    kind = chance.choices(["service", "search", "unknown"], [5, 4, 1])[0]
    checklist = {"service": made.service, "search": chance.choice(made.searches), "unknown": None}[kind]
    complaints = [checklist.complaint] if checklist is not None else []
    keys = [one.pk for one in complaints]
    honest = earliest_day(made.shop, play.today, complaints=keys, model_pk=model.pk)
    promised = honest.day + dt.timedelta(days=chance.choice([0, 0, 1, 2]))
    if squeezed:
        promised = play.today + dt.timedelta(days=3 if play.today.weekday() == 4 else 1)
    ticket = book_in(
        shop=made.shop, by=made.counter, customer=customer, unit=unit, client_id=play.id(),
        agreement=AgreedAtBooking(complaint_words="As the rider says it.", promised_on=promised, complaints=complaints),
    )  # fmt: skip
    cause = ""
    if checklist is not None and not checklist.complaint.is_routine:
        cause = chance.choices(*zip(*sorted(checklist.priors.items()), strict=True))[0]
    asks = bool(cause) and chance.random() < 0.4
    play.done["asked"] += asks
    says_no = asks and play.done["asked"] % 4 == 2
    play.jobs[ticket.pk] = Job(ticket.pk, cause, is_service=kind == "service", asks_first=asks, says_no=says_no)
    if chance.random() < 0.1:
        take_payment(ticket=ticket, part=PaidPart("card", Decimal(20)), client_id=play.id(), by=made.counter)
    play.done["booked"] += 1
    return ticket


def estimate(play: Play, job: Job, ticket: Ticket) -> None:
    """An estimate of what is on the ticket now; it waits for the answer. The PDF is not made."""
    data = gather_estimate(Ticket.objects.get(pk=ticket.pk), "")
    document = DocumentFactory(ticket=ticket, kind="estimate", revision=1, data=data, data_digest=f"{ticket.pk:064x}")
    job.estimate_pk = document.pk
    play.rates[ticket.pk] = rates_on(play, play.today)
    move(
        ticket=ticket, to_state="waiting", waiting_for="customer", by=play.made.counter, seen_version=ticket.version
    )  # fmt: skip
    play.strike([ticket.pk])  # nobody knows when the customer answers


def answers(play: Play) -> None:
    """Half of those who were asked answer; what was declined is called off a day later."""
    waiting = Ticket.objects.filter(shop=play.made.shop, state="waiting", waiting_for="customer").order_by("pk")
    for ticket in waiting:
        job = play.jobs[ticket.pk]
        play.strike([ticket.pk])
        if job.answered:
            _call_off(play, ticket)
        elif play.chance.random() < 0.5:
            document = Document.objects.get(pk=known(job.estimate_pk))
            record_answer(
                document=document, agreed=not job.says_no, how=Agreement.How.PHONE, said_by=ticket.customer.name,
                by=play.made.counter, seen_digest=document.data_digest,
            )  # fmt: skip
            job.answered = True
            play.done["no" if job.says_no else "yes"] += 1
            if not job.says_no:
                move(ticket=ticket, to_state="on_the_bench", by=play.made.mechanics[0], seen_version=ticket.version)


def _call_off(play: Play, ticket: Ticket) -> None:
    lines = unresolved_lines(ticket)
    resolve_parts(
        ticket=ticket, answers=[PartAnswer(one.pk, None, one.quantity) for one in lines], by=play.made.counter
    )
    for line in ticket.labour_lines.filter(dropped=False):
        drop_labour(line=line, by=play.made.counter)
    move(ticket=ticket, to_state="called_off", by=play.made.counter, seen_version=ticket.version)
    play.rates[ticket.pk] = rates_on(play, play.today)
    play.done["called off"] += 1


def rates_on(play: Play, day: dt.date) -> tuple[Decimal, Decimal]:
    return TAXED_ANEW if day >= play.days[0] + dt.timedelta(days=14) else (LABOUR_PERCENT, PARTS_PERCENT)


def announce_tax(play: Play) -> None:
    """The owner enters the rates of the third week in the second."""
    set_tax_rate(
        shop=play.made.shop, seen_version=1, from_on=play.days[0] + dt.timedelta(days=14),
        labour_percent=TAXED_ANEW[0], parts_percent=TAXED_ANEW[1], by=play.made.owner,
    )  # fmt: skip
    play.done["tax change"] += 1


def hand_out(play: Play) -> None:
    """Most of what is ready or called off is fetched, and paid in one of the ways."""
    rows = Ticket.objects.filter(shop=play.made.shop, state__in=["ready", "called_off"]).order_by("pk")
    for ticket in rows:
        if play.chance.random() < 0.8:
            _hand_over(play, ticket)


def _hand_over(play: Play, ticket: Ticket) -> HandOver:
    agreed = Agreement.objects.filter(ticket=ticket).order_by("pk").last()
    if agreed is None or not agreed.agreed:
        play.rates[ticket.pk] = rates_on(play, play.today)
    gross = Decimal(gross_cents(ticket, play.rates[ticket.pk])) / 100
    paid_before = sum((one.amount for one in ticket.payments.exclude(kind="account")), Decimal(0))
    due = gross - paid_before
    way = play.chance.choices(["card", "cash", "split", "account"], [5, 3, 1, 1])[0]
    parts = [PaidPart(way, due)] if due > 0 and way in ("card", "cash") else []
    if due > 0 and way == "split":
        half = (due / 2).quantize(Decimal("0.01"))
        parts = [PaidPart(kind, amount) for kind, amount in (("card", half), ("cash", due - half)) if amount]
    ticket = Ticket.objects.select_related("shop").get(pk=ticket.pk)
    made = hand_over(
        ticket=ticket, by=play.made.counter, seen_version=ticket.version, settings=Settings(), client_id=play.id(),
        reason="As it is", paid=HowPaid(parts=parts, on_account=way == "account", back_by="cash" if due < 0 else ""),
    )  # fmt: skip
    play.done["handed over"] += 1
    return made


def pay_what_is_open(play: Play) -> None:
    for one in open_sums(play.made.shop):
        if one.amount > 0 and play.chance.random() < 0.3:
            take_payment(ticket=one.ticket, part=PaidPart("transfer", one.amount), client_id=play.id(), by=None)
            play.done["paid later"] += 1


def credit_one(play: Play) -> None:
    """Something was charged that should not have been: a part of its receipt is credited, the money goes back."""
    for hand in HandOver.objects.filter(ticket__shop=play.made.shop, taken_back=None, gross__gt=20).order_by("-pk"):
        lines = creditable(hand).lines
        if lines and not any(line.credited for line in lines):
            credit_part(
                hand_over=hand, lines=[lines[0].place], reason="Charged by mistake", back_by="cash",
                client_id=play.id(), by=play.made.owner,
            )  # fmt: skip
            play.done["credit note"] += 1
            return


def open_one_again(play: Play) -> None:
    """One comes back on the next day, is opened again with its credit note, and handed over once more."""
    for ticket in Ticket.objects.filter(shop=play.made.shop, state="handed_back").order_by("-pk"):
        hand = standing_hand_over(ticket)
        if hand is not None and hand.gross > 20:
            open_again(ticket=ticket, reason="The label was wrong", by=play.made.owner, seen_version=ticket.version)
            _hand_over(play, Ticket.objects.get(pk=ticket.pk))
            play.done["opened again"] += 1
            return
