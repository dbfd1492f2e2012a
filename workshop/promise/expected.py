"""Parts that tickets are expected to need before anybody put them on: which, with what chance, and when they are here.

What a ticket was booked in for says it, from that moment. A service takes the kit of its level. A complaint takes parts
of the roles that its checklist’s findings ask for, with the chances of its causes. Where nothing of that is known, the
model’s smallest kit is as likely as not. The shop’s own closed tickets are added to each (workshop.work.parts_learned).

It ends part by part once the part stands on the ticket (also where it was dropped again); for a complaint once its
cause was found or a part was put on the ticket by a finding or by hand; and for all of the ticket once the customer’s
last answer was a no, or its work is over. A superseded part is followed as kits follow it.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from itertools import chain
from types import MappingProxyType

from diagnosis.steps import current_checklists
from specs.models import Part
from workshop.promise.queued import IN_WORK, QueuedTicket, queued_tickets
from workshop.promise.wanted_parts import Ended, Reason, Reasons, chance_of, complaints_of, kits_of
from workshop.staff.models import Shop
from workshop.stock.arrivals import Arrival, to_be_ordered
from workshop.stock.expected_need import (
    WORTH_NAMING,
    Chance,
    any_of,
    chance_in_words,
    chance_of_more_than,
    expected_amount,
)
from workshop.stock.lead_times import learned_days
from workshop.stock.sharing import NOTHING, Share, Want, share_out, suggested_order
from workshop.stock.shortages import ItemStanding, PartsStanding, stores_standing
from workshop.tickets.models import Ticket
from workshop.work.parts_learned import parts_learned
from workshop.work.succession import Succession


@dataclass(frozen=True)
class ExpectedOfPart:
    """A part that tickets are expected to need; `row` is how the stores stand, None where it is not kept.

    `shares` are of the likely ones, after all that stands on tickets, by the order of promises.
    """

    part: Part
    wants: Sequence[Chance]
    row: ItemStanding | None
    shares: Sequence[Share]

    @property
    def amount(self) -> Decimal:
        return expected_amount(self.wants)

    @property
    def most(self) -> Decimal:
        return sum((want.quantity for want in self.wants), NOTHING)

    @property
    def chance_short(self) -> float:
        """That they take more than is there and on order beyond what stands on tickets."""
        row = self.row
        return chance_of_more_than(NOTHING if row is None else row.level + row.on_order - row.wanted, self.wants)

    @property
    def short_words(self) -> str:
        return chance_in_words(self.chance_short) if self.chance_short >= WORTH_NAMING else ""

    @property
    def missing(self) -> Decimal:
        return sum((share.missing for share in self.shares), NOTHING)

    @property
    def suggested(self) -> Decimal:
        """How much to order, with what is likely to be needed."""
        if self.row is None:
            return NOTHING
        likely = sum((share.want.quantity for share in self.shares), NOTHING)
        row, part = self.row, self.part
        return suggested_order(row.level, row.on_order, row.wanted + likely, row.item.reorder_level, part.bottle_ml)

    @property
    def lacking(self) -> list[Chance]:
        """The wants that are likely and for which nothing is there or on order."""
        missing = {share.want.ticket_pk for share in self.shares if share.missing}
        return [want for want in self.wants if want.ticket_pk in missing]


@dataclass(frozen=True)
class ExpectedNeeds:
    """What tickets are expected to need, by the key of the part, in the order of promises."""

    parts: Mapping[int, Part] = field(default_factory=dict)
    wants: Mapping[int, Sequence[Chance]] = field(default_factory=dict)

    def beside(self, standing: PartsStanding) -> dict[int, ExpectedOfPart]:
        """The same against the stores, which have to know the parts; asks the database nothing."""
        rows = {row.item.part_id: row for row in standing.items}
        return {key: _of_part(self.parts[key], wants, rows.get(key)) for key, wants in self.wants.items()}


@dataclass(frozen=True)
class StoresForPromises:
    """How the stores stand for what is on tickets, and for what is expected.

    `learned` are the days that suppliers take by their deliveries, by name; empty where nothing is lacking.
    """

    standing: PartsStanding
    expected: Mapping[int, ExpectedOfPart]
    learned: Mapping[str, int] = field(default_factory=dict)

    def arrivals(self, today: dt.date, unknown_days: int) -> dict[int, Arrival]:
        """For each ticket that lacks a part, or is likely to: when the last is here, and why then."""
        last = self.standing.arrivals(today, unknown_days, self.learned)
        for one in self.expected.values():
            for share in _lacking(one):
                chance = next(want for want in one.wants if want.ticket_pk == share.want.ticket_pk)
                arrival = (
                    to_be_ordered(one.part.description, None, today, unknown_days)
                    if one.row is None
                    else one.row.arrival_of(share, today, unknown_days, self.learned)
                )
                said = replace(arrival, reason=f"{arrival.reason} (needed: {chance.words})", of=one.part.pk)
                known = last.get(share.want.ticket_pk)
                if known is None or said.day > known.day:
                    last[share.want.ticket_pk] = said
        return last


def stores_for_promises(
    shop: Shop, tickets: Sequence[QueuedTicket], booked_for: Mapping[int, Sequence[int]] = MappingProxyType({})
) -> StoresForPromises:
    """In a number of queries that does not grow; `booked_for` has the complaints of tickets that are not there yet."""
    needs = expected_needs(shop, tickets, booked_for)
    standing = stores_standing(shop, with_quiet_items=False, also_parts=needs.parts)
    expected = needs.beside(standing)
    of_lines = (share for row in standing.items for share in row.shares)
    likely = (share for one in expected.values() for share in one.shares)
    learned = learned_days(shop) if any(not share.is_here for share in chain(of_lines, likely)) else {}
    return StoresForPromises(standing, expected, learned)


def expected_in_stores(shop: Shop) -> dict[int, ExpectedOfPart]:
    """What is expected of each part, by its key, for the pages of the stores."""
    needs = expected_needs(shop, queued_tickets(shop))
    return needs.beside(stores_standing(shop, only_parts=needs.parts)) if needs.parts else {}


@dataclass(frozen=True)
class ExpectedOnTicket:
    """A part that a ticket is expected to need. `share` is what of it is there or coming, None where it is unlikely."""

    part: Part
    want: Chance
    share: Share | None


def expected_on(ticket: Ticket) -> list[ExpectedOnTicket]:
    """What one ticket is expected to need, the likeliest first; the promises before it are reckoned with."""
    if ticket.state not in IN_WORK:
        return []
    found = [
        ExpectedOnTicket(one.part, want, next((its for its in one.shares if its.want.ticket_pk == ticket.pk), None))
        for one in expected_in_stores(ticket.shop).values()
        for want in one.wants
        if want.ticket_pk == ticket.pk
    ]
    return sorted(found, key=lambda one: (-one.want.chance, one.part.number))


def expected_needs(
    shop: Shop, tickets: Sequence[QueuedTicket], booked_for: Mapping[int, Sequence[int]] = MappingProxyType({})
) -> ExpectedNeeds:
    """What these tickets are expected to need; nine queries, and three every ten minutes."""
    known = [ticket for ticket in tickets if ticket.model_pk is not None]
    kits = kits_of({ticket.model_pk for ticket in known if ticket.model_pk is not None})
    known = [ticket for ticket in known if ticket.model_pk in kits]
    if not known:
        return ExpectedNeeds()
    keys = [ticket.pk for ticket in known]
    ended = Ended.of(keys)
    complaints = complaints_of(keys) | dict(booked_for)
    reasons = Reasons(kits, current_checklists())
    succession = Succession.of([line for lines in kits.values() for line in lines], shop.pk)
    learned = parts_learned(shop)
    parts: dict[int, Part] = {}
    wants: dict[int, list[Chance]] = defaultdict(list)
    for ticket in sorted(known, key=lambda one: (one.promised_on, one.number)):
        if ticket.pk in ended.by_a_no:
            continue
        of_part: dict[int, list[Reason]] = defaultdict(list)
        for reason in reasons.of(ticket, complaints.get(ticket.pk, ())):
            if not ended.is_over(ticket.pk, reason, succession):
                part = succession.taken_for(reason.line.part, reason.line.quantity)
                parts[part.pk] = part
                of_part[part.pk].append(reason)
        for part_pk, its in of_part.items():
            chance = any_of(chance_of(reason, ticket.kind, learned) for reason in its)
            if chance >= WORTH_NAMING:
                most = max(reason.line.quantity for reason in its)
                wants[part_pk].append(Chance(ticket.pk, ticket.number, ticket.promised_on, most, chance))
    return ExpectedNeeds({pk: parts[pk] for pk in wants}, wants)


def _of_part(part: Part, wants: Sequence[Chance], row: ItemStanding | None) -> ExpectedOfPart:
    likely = [
        Want(want.ticket_pk, want.number, want.promised_on, want.quantity, expected=True)
        for want in wants
        if want.is_likely
    ]
    firm = [] if row is None else [share.want for share in row.shares]
    level, deliveries = (NOTHING, ()) if row is None else (row.level, row.deliveries)
    shares = share_out(level, deliveries, [*firm, *likely])
    return ExpectedOfPart(part, wants, row, [share for share in shares if share.want.expected])


def _lacking(one: ExpectedOfPart) -> list[Share]:
    return [share for share in one.shares if not share.is_here]
