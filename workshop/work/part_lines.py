"""What becomes of the parts on a ticket: another quantity, dropped, used, needed again."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from diagnosis.models import Step
from specs.models import Part, StandIn
from specs.stand_ins import chain_of, superseded_parts
from workshop.staff.models import User
from workshop.stock.amounts import measured, unit_of_stock
from workshop.stock.batch_models import Batch
from workshop.stock.batch_shares import held_of
from workshop.stock.first_expiring import dealt
from workshop.stock.models import StockItem
from workshop.stock.moving import hold_item, level_of, put_back_from_line, take_for_line
from workshop.stock.price_updates import let_prices_come_due
from workshop.stock.sharing import Share, share_out
from workshop.stock.shortages import stores_standing
from workshop.tickets.logbook import log
from workshop.tickets.models import PartLine, Ticket
from workshop.web.day_words import day_in_words
from workshop.web.number_words import figures

Source, Status = PartLine.Source, PartLine.Status


class PartLineRefused(ValueError):
    """The line cannot be changed like that; the message says why."""


class QuantityChanged(PartLineRefused):
    """Somebody else changed the quantity meanwhile; theirs stands."""

    def __init__(self, line: PartLine) -> None:
        super().__init__(
            f"Somebody changed “{line.title}” to {measured(line.quantity, line.part)} meanwhile. "
            "Change it again if that is wrong."
        )


@transaction.atomic
def drop_lines_of_step(*, ticket: Ticket, step: Step, by: User | None) -> int:
    """The answer was taken back: what it asked for and nobody used is needed no more."""
    lines = list(  # by the step's key: a step that several checklists share is one of each
        ticket.part_lines.filter(step__key=step.key, source=Source.FINDING, status=Status.NEEDED).select_related("part")
    )
    for line in lines:
        _change_status(line, Status.NEEDED, Status.DROPPED, by, "Part no longer needed")
    return len(lines)


@transaction.atomic
def set_quantity(*, line: PartLine, quantity: Decimal, seen: Decimal, by: User | None) -> PartLine:
    """Another quantity for a line that is still needed. `seen` is the one that was changed from.

    Raises ValidationError, PartLineRefused.
    """
    hold_open_for_parts(line.ticket)
    before = line.quantity
    line.quantity = quantity
    check_line(line)
    if not PartLine.objects.filter(pk=line.pk, status=Status.NEEDED, quantity=seen).update(quantity=quantity):
        line.refresh_from_db(fields=["quantity", "status"])
        if line.status == Status.NEEDED:
            raise QuantityChanged(line)
        stays = measured(before, line.part)
        raise PartLineRefused(f"“{line.title}” was {line.status} meanwhile. Its quantity stays {stays}.")
    before = seen
    if quantity != before:
        log(
            ticket=line.ticket,
            by=by,
            kind="part_quantity",
            values={"part": line.title},
            changes={"quantity": [measured(before, line.part), measured(quantity, line.part)]},
        )
    return line


@transaction.atomic
def drop_part_line(*, line: PartLine, by: User | None) -> PartLine:
    """Not needed after all; it can be taken up again."""
    hold_open_for_parts(line.ticket)
    return _change_status(line, Status.NEEDED, Status.DROPPED, by, "part_dropped")


class KeptForOthers(PartLineRefused):
    """What it would take is kept for tickets with an earlier promise; `numbers` are those that would go short."""

    def __init__(self, line: PartLine, short: Sequence[Share]) -> None:
        named = ", ".join(
            f"ticket {share.want.number} (promised {day_in_words(share.want.promised_on)})" for share in short
        )
        super().__init__(f"“{line.title}” is kept for {named}. Used here, it is missing there.")
        self.numbers = [share.want.number for share in short]


class OutOfDate(PartLineRefused):
    """What it would take is past its use-by day; `batches` are those."""

    def __init__(self, line: PartLine, batches: Sequence[Batch]) -> None:
        named = ", ".join(
            f"batch {batch.number} (use by {day_in_words(batch.use_by)})"
            for batch in batches
            if batch.use_by is not None
        )
        super().__init__(f"“{line.title}” would be taken of {named}, which is out of date.")
        self.batches = batches


@transaction.atomic
def use_part_line(
    *,
    line: PartLine,
    by: User | None,
    taking_from: Collection[int] | None = (),
    of_batches: Collection[int | None] = (),
    out_of_date: Collection[int] = (),
) -> PartLine:
    """Fitted, and out of the stores if the shop keeps it.

    Args:
        taking_from: numbers of tickets that it is kept for and that somebody said may go short; None where it was
            fitted before anybody asked, so that there is nothing to ask.
        of_batches: keys of the batches that it is taken of, None for what has no batch; else the first to expire.
        out_of_date: keys of the batches that are past their use-by day and that somebody said are used all the same.

    Raises:
        KeptForOthers: it is kept for a ticket that is not among those.
        OutOfDate: it would be taken of a batch that is out of date and not among those.
        workshop.stock.moving.NotEnoughInStock: there is not as much.
    """
    hold_open_for_parts(line.ticket)
    item = StockItem.objects.filter(shop=line.ticket.shop_id, part=line.part_id).select_related("part").first()
    short = [] if item is None or line.status != Status.NEEDED else left_short(line)
    if short and taking_from is not None and {share.want.number for share in short} - set(taking_from):
        raise KeptForOthers(line, short)
    over = [] if item is None or line.status != Status.NEEDED else over_taken(item, line, of_batches)
    if taking_from is not None and {batch.pk for batch in over} - set(out_of_date):
        raise OutOfDate(line, over)
    _change_status(line, Status.NEEDED, Status.USED, by, "part_used")
    if line.part_id and item is not None:
        take_for_line(item=item, line=line, by=by, first=of_batches)
    for batch in over:
        used = {"part": line.title, "batch": batch.number, "use_by": str(batch.use_by)}
        log(ticket=line.ticket, by=by, kind="batch_out_of_date", values=used)
    for share in short:
        values = {"part": line.title, "number": line.ticket.number}
        log(ticket=Ticket(pk=share.want.ticket_pk), by=by, kind="part_given_up", values=values)
    return line


def over_taken(item: StockItem, line: PartLine, of_batches: Collection[int | None] = ()) -> list[Batch]:
    """The batches that a line would be taken of and that are past their use-by day; holds the item if there are any."""
    today = timezone.localdate()
    if not Batch.objects.filter(item=item, use_by__lt=today, kept_level__level__gt=0).exists():
        return []
    hold_item(item)
    taken = dealt(held_of(item, level_of(item)), line.quantity, of_batches)
    over = [one.key for one, _ in taken if one.key is not None and one.is_over(today)]
    return list(Batch.objects.filter(pk__in=over)) if over else []


def left_short(line: PartLine) -> list[Share]:
    """What other tickets have of this part now, by the order of promises, and would lack once this line took its own.

    Nothing where there is not enough for the line at all: then it cannot be used.
    """
    standings = stores_standing(line.ticket.shop, only_parts=[line.part_id] if line.part_id else []).items
    if not standings or standings[0].level < line.quantity:
        return []
    standing = standings[0]
    others = [share for share in standing.shares if share.want.line_pk != line.pk]
    after = share_out(standing.level - line.quantity, standing.deliveries, [share.want for share in others])
    there = {share.want.line_pk: share.there for share in after}
    return [
        share for share in others if share.want.ticket_pk != line.ticket_id and there[share.want.line_pk] < share.there
    ]


@transaction.atomic
def take_up_again(*, line: PartLine, by: User | None) -> PartLine:
    """Undo a drop or a use: the line is needed again and what it took is back in the stores."""
    hold_open_for_parts(line.ticket)
    before = line.status
    _change_status(line, before, Status.NEEDED, by, "part_again")
    if before == Status.USED:
        put_back_from_line(line=line, by=by)
    return line


@transaction.atomic
def swap_part(*, line: PartLine, other: Part | None, by: User | None) -> PartLine:
    """Another part for a line that is still needed, at its own price; the line remembers what it was of.

    The other is one that may stand in for it, or one further along the row of parts that superseded it.

    Raises PartLineRefused where nobody said that the other may stand in for it, or the line was changed meanwhile.
    """
    hold_open_for_parts(line.ticket)
    was = line.part
    if was is None or other is None or not _stands_in(other, was):
        raise PartLineRefused(f"Nobody said that another part may be used instead of “{line.title}”.")
    let_prices_come_due(line.ticket.shop_id)
    price = StockItem.objects.filter(shop=line.ticket.shop_id, part=other).values_list("price", flat=True).first()
    first = line.instead_of_id or was.pk
    mine = PartLine.objects.filter(pk=line.pk, status=Status.NEEDED, part=was)
    if not mine.update(part=other, unit_price=price, instead_of=None if other.pk == first else first):
        line.refresh_from_db()
        raise PartLineRefused(f"“{line.title}” was changed meanwhile. Look at it again.")
    values = {"part": str(was), "other": str(other)}
    log(ticket=line.ticket, by=by, kind="part_swapped", values=values)
    line.refresh_from_db()
    return line


def _stands_in(other: Part, part: Part) -> bool:
    said = StandIn.objects.filter(part=part, other=other).exists()
    return said or other.pk in chain_of(part.pk, superseded_parts())[1:]


def check_line(line: PartLine) -> None:
    """Raises ValidationError where a line is not one: neither part nor words, or no quantity."""
    if line.part_id is None and not line.words:
        raise ValidationError({"words": "Choose a part or say in words what is needed."})
    if line.quantity <= 0:
        raise ValidationError({"quantity": "Enter a quantity above zero."})
    line.full_clean(exclude=["ticket", "part", "step", "by"], validate_constraints=False)


def hold_open_for_parts(ticket: Ticket) -> None:
    """Hold the ticket, so that no part moves while it is handed back. Raises ValidationError after that."""
    # Without its key, which the rows of others point at: else they and who waits for a part would wait in a ring.
    state = Ticket.objects.select_for_update(no_key=True).values_list("state", flat=True).get(pk=ticket.pk)
    if state == Ticket.State.HANDED_BACK:
        raise ValidationError("This ticket is handed back; its parts and charges stand.")


def _change_status(line: PartLine, before: str, after: str, by: User | None, kind: str) -> PartLine:
    """One conditional UPDATE, so that of two tablets only one uses the part."""
    if not PartLine.objects.filter(pk=line.pk, status=before).update(status=after):
        line.refresh_from_db()
        raise PartLineRefused(f"“{line.title}” is already {line.get_status_display().lower()}. Look at it again.")
    line.status = after
    values = {"quantity": figures(line.quantity), "part": line.title, "unit": unit_of_stock(line.part)}
    log(ticket=line.ticket, by=by, kind=kind, values=values)
    return line
