"""The parts on a ticket with what the stores have for them, and what they cost."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from django.db.models import Exists, F, OuterRef
from django.utils import timezone

from diagnosis.models import Step
from specs.models import StandIn
from workshop.stock.batch_models import Batch, BatchMovement
from workshop.stock.first_expiring import Held, first_expiring
from workshop.stock.models import StockItem
from workshop.stock.moving import NOTHING
from workshop.stock.price_updates import let_prices_come_due
from workshop.stock.sharing import ExpectedDelivery
from workshop.stock.shortages import ItemStanding, stores_standing
from workshop.tickets.models import PartLine, Ticket
from workshop.web.number_words import plain_price
from workshop.work.succession import is_marked, marked, price_change_words

Status = PartLine.Status

# A line names its step and who wrote it; what the step says to do is long and not needed for that.
_OF_STEPS_AND_PEOPLE = (
    *(f"step__{field.attname}" for field in Step._meta.concrete_fields if field.name not in {"id", "key", "title"}),
    *("by__password", "by__email", "by__last_login", "by__date_joined"),
)


@dataclass(frozen=True)
class BatchShown:
    """A batch that a line can be taken of, or was, and how much of it; `over` says that it is, or was, out of date."""

    batch: Batch
    quantity: Decimal
    over: bool


@dataclass(frozen=True)
class Swap:
    """A part that may be taken instead of a line's own, and what it costs more or less, in words."""

    stand_in: StandIn
    price_words: str


@dataclass(frozen=True)
class LineShown:
    """A line with what the stores have for it. `in_stock` is None where the shop does not keep the part.

    `coming` is the order that all it lacks comes with, at the latest; `item_pk` the part’s place in the stores.
    `batches` are those that a needed line can be taken of, the first to be used first, and those that a used one was
    taken of. `behind` says that its ticket waits too long to keep its parts, `not_kept` that the customer said no to
    it.
    """

    line: PartLine
    in_stock: bool | None
    level: Decimal | None
    wanted_elsewhere: Decimal
    coming: ExpectedDelivery | None = None
    item_pk: int | None = None
    behind: bool = False
    not_kept: bool = False
    swaps: Sequence[Swap] = ()
    batches: Sequence[BatchShown] = ()
    without_batch: Decimal = NOTHING

    @property
    def is_asked_which(self) -> bool:
        """Whether there is more than one batch to take it of, or one that is out of date."""
        return len(self.batches) + bool(self.without_batch) > 1 or any(one.over for one in self.batches)

    @property
    def may_be_priced(self) -> bool:
        """No price list knows it: it is in words, not kept here, or came onto the ticket before it was."""
        return self.level is None or self.line.unit_price is None

    @property
    def price_typed(self) -> str:
        """The price as a field has it."""
        return plain_price(self.line.unit_price)

    @property
    def must_be_ordered(self) -> bool:
        return self.line.status == Status.NEEDED and self.in_stock is not True and self.coming is None


def lines_of(ticket: Ticket) -> list[LineShown]:
    """The ticket's lines with what the stores have for them, in a number of queries that does not depend on how many.

    In stock means: shared out by the order of promises, what is there covers the line.
    """
    in_batches = Exists(Batch.objects.filter(item__shop=ticket.shop_id, item__part=OuterRef("part")))
    rows = marked(ticket.part_lines.annotate(in_batches=in_batches)).select_related("part", "step", "by")
    rows = rows.defer(*_OF_STEPS_AND_PEOPLE)
    lines = list(rows.order_by("pk"))
    parts = {line.part_id for line in lines if line.part_id}
    kept = stores_standing(ticket.shop, only_parts=parts).items if parts else []
    items = {row.item.part_id: row for row in kept}
    shown = [_shown(line, items.get(line.part_id) if line.part_id else None) for line in lines]
    shown = _with_batches(shown)
    return _with_swaps(ticket, shown)


def _with_swaps(ticket: Ticket, shown: list[LineShown]) -> list[LineShown]:
    """What may be taken instead of the parts that are needed; nothing is asked where nothing may."""
    needed = {one.line.part_id for one in shown if one.line.status == Status.NEEDED and is_marked(one.line)}
    if not needed:
        return shown
    others: dict[int, list[StandIn]] = defaultdict(list)
    for stand_in in StandIn.objects.filter(part__in=needed).select_related("other"):
        others[stand_in.part_id].append(stand_in)
    let_prices_come_due(ticket.shop_id)
    prices = dict(
        StockItem.objects.filter(shop=ticket.shop_id, part__stands_in_for__part__in=needed).values_list("part", "price")
    )

    def swap(line: PartLine, stand_in: StandIn) -> Swap:
        after = prices.get(stand_in.other_id)
        return Swap(stand_in, price_change_words(line.unit_price, after, ticket.shop))

    return [
        replace(one, swaps=[swap(one.line, stand_in) for stand_in in others.get(one.line.part_id or 0, ())])
        if one.line.status == Status.NEEDED
        else one
        for one in shown
    ]


def _shown(line: PartLine, standing: ItemStanding | None) -> LineShown:
    if standing is None:
        return LineShown(line, None, None, NOTHING)
    own = [share for share in standing.shares if share.want.ticket_pk == line.ticket_id]
    elsewhere = standing.wanted - sum((share.want.quantity for share in own), NOTHING)
    share = next((share for share in own if share.want.line_pk == line.pk), None)
    if share is None:  # used or dropped, the ticket is closed, or the customer said no: it has no claim
        enough, no_claim = standing.level - elsewhere >= line.quantity, line.status == Status.NEEDED
        return LineShown(line, enough, standing.level, elsewhere, item_pk=standing.item.pk, not_kept=no_claim)
    coming = None if share.missing else share.last_delivery
    return LineShown(line, share.is_here, standing.level, elsewhere, coming, standing.item.pk, share.want.behind)


def _with_batches(lines: Sequence[LineShown]) -> list[LineShown]:
    """In two queries, where a part has batches; in none where none has."""
    keys = [one.line.pk for one in lines if one.line.in_batches]  # type: ignore[attr-defined]
    if not keys:
        return list(lines)
    today, there, taken = timezone.localdate(), defaultdict[int, list[Batch]](list), _taken_of(keys)
    items = {one.item_pk for one in lines if one.item_pk is not None}
    for batch in Batch.objects.filter(item__in=items, kept_level__level__gt=0).annotate(level=F("kept_level__level")):
        there[batch.item_id].append(batch)
    found = []
    for one in lines:
        held = there[one.item_pk or 0]
        if one.line.status == Status.NEEDED and held:
            rest = (one.level or NOTHING) - sum((batch.level for batch in held), NOTHING)  # type: ignore[attr-defined]
            found.append(replace(one, batches=_in_order(held, today), without_batch=rest))
        else:
            found.append(replace(one, batches=taken[one.line.pk]) if one.line.pk in taken else one)
    return found


def _in_order(held: Sequence[Batch], today: dt.date) -> list[BatchShown]:
    """The first to be used first."""
    batches = {batch.pk: batch for batch in held}
    levels = {batch.pk: batch.level for batch in held}  # type: ignore[attr-defined]
    order = first_expiring(
        [Held(pk, levels[pk], one.use_by, one.opened_on is not None) for pk, one in batches.items()], today
    )
    return [BatchShown(batches[one.key], one.level, one.is_over(today)) for one in order if one.key is not None]


def _taken_of(keys: Sequence[int]) -> dict[int, list[BatchShown]]:
    """Of which batches lines were taken and not given back, by the key of the line; out of date as on that day."""
    rows = BatchMovement.objects.filter(movement__part_line__in=keys).order_by("pk")
    moved = defaultdict[tuple[int, int], list[BatchMovement]](list)
    for row in rows.select_related("batch", "movement"):
        line = row.movement.part_line_id if row.movement is not None else None
        moved[line or 0, row.batch_id].append(row)
    taken = defaultdict[int, list[BatchShown]](list)
    for (line, _), each in moved.items():
        net = -sum((row.quantity for row in each), NOTHING)
        if net > 0:
            batch = each[-1].batch
            taken[line].append(BatchShown(batch, net, batch.is_over(timezone.localdate(each[-1].at))))
    return dict(taken)


def total_of(lines: Iterable[LineShown]) -> Decimal:
    """What the lines that are needed or used cost together; lines without a price are left out."""
    return sum((shown.line.total or Decimal(0) for shown in lines if shown.line.status != Status.DROPPED), Decimal(0))
