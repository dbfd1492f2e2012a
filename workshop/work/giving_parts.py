"""A part given by hand to one ticket, before those that it is kept for by the order of promises; and taken back."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from workshop.staff.models import Shop, User
from workshop.stock.models import StockItem
from workshop.stock.sharing import Share
from workshop.stock.shortages import ItemStanding, stores_standing
from workshop.tickets.logbook import log
from workshop.tickets.models import PartLine, Ticket
from workshop.work.part_lines import PartLineRefused, hold_open_for_parts

Status = PartLine.Status


@transaction.atomic
def give_part(*, line: PartLine, why: str, by: User | None) -> list[Share]:
    """Keep a part for this line before all others, who and why in the logbooks of all whom it concerns.

    Returns:
        What was kept for others, or on its way for them, and is so no longer or comes later.

    Raises:
        ValidationError: nobody said why, or the ticket is handed back.
        PartLineRefused: the line needs nothing, there is nothing to give, or all of it is kept for it already.
    """
    if not why.strip():
        raise ValidationError({"why": "Say why this ticket comes first."})
    before = _share_of(line)
    if before.is_here:
        raise PartLineRefused(f"“{line.title}” is kept for ticket {line.ticket.number} already.")
    now = timezone.now()
    shares = {share.want.line_pk: share for share in _standing(line).shares}

    def has(share: Share) -> tuple[object, ...]:
        return share.there, share.missing, share.last_delivery

    PartLine.objects.filter(pk=line.pk).update(given_at=now)
    short = [
        shares[after.want.line_pk]
        for after in _standing(line).shares
        if after.want.ticket_pk != line.ticket_id and has(after) != has(shares[after.want.line_pk])
    ]
    if not short:
        raise PartLineRefused(f"No other ticket has any of “{line.title}”, so there is nothing to give.")
    line.given_at = now
    number, reason = line.ticket.number, why.strip()
    numbers = list(dict.fromkeys(str(share.want.number) for share in short))
    log(ticket=line.ticket, by=by, kind="part_given", values={"part": line.title, "from": numbers, "reason": reason})
    for ticket_pk in dict.fromkeys(share.want.ticket_pk for share in short):
        values = {"part": line.title, "number": number, "reason": reason}
        log(ticket=Ticket(pk=ticket_pk), by=by, kind="part_given_away", values=values)
    return short


@transaction.atomic
def give_back(*, line: PartLine, by: User | None) -> PartLine:
    """By the order of promises again. Raises PartLineRefused where it was not given, or somebody did so before."""
    hold_open_for_parts(line.ticket)
    if not PartLine.objects.filter(pk=line.pk, given_at__isnull=False).update(given_at=None):
        raise PartLineRefused(f"“{line.title}” is kept by the order of promises already.")
    line.given_at = None
    log(ticket=line.ticket, by=by, kind="part_given_back", values={"part": line.title})
    return line


def _share_of(line: PartLine) -> Share:
    """What the line has now, while no other part moves; the shop's row first, as whoever gives another one holds it."""
    Shop.objects.select_for_update().only("pk").get(pk=line.ticket.shop_id)
    hold_open_for_parts(line.ticket)
    share = next((one for one in _standing(line).shares if one.want.line_pk == line.pk), None)
    if share is None:
        raise PartLineRefused(f"“{line.title}” is not needed on ticket {line.ticket.number} any more.")
    return share


def _standing(line: PartLine) -> ItemStanding:
    if not StockItem.objects.filter(shop=line.ticket.shop_id, part=line.part_id).exists():
        raise PartLineRefused(f"“{line.title}” is not kept in these stores, so there is nothing to give.")
    parts = [line.part_id] if line.part_id else []
    return stores_standing(line.ticket.shop, only_parts=parts).items[0]
