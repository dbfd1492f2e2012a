"""Batches of a part: named as they come, opened bottle by bottle, counted, spilled, and put right."""

from __future__ import annotations

import datetime as dt
import uuid
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from specs.models import Part
from workshop.staff.models import User
from workshop.stock.amounts import measured
from workshop.stock.batch_models import Batch, BatchLevel, BatchMovement
from workshop.stock.first_expiring import NOTHING
from workshop.stock.models import StockItem, StockMovement
from workshop.stock.moving import correct_by, hold_item, level_of, receive, write_off
from workshop.web.day_words import day_in_words
from workshop.web.plausible_days import DayKind, refuse_day
from workshop.web.versions import take_version

_POURED = {Part.Role.OIL, Part.Role.GREASE, Part.Role.VARNISH}


def asks_for_batch(item: StockItem) -> bool:
    """Whether who receives it is asked for its batch: oils, greases and adhesives, and what has batches already."""
    part = item.part
    return part.measure == Part.Measure.ML or part.role in _POURED or Batch.objects.filter(item=item).exists()


def level_in(batch: Batch) -> Decimal:
    """What is there of a batch."""
    level = BatchLevel.objects.filter(batch=batch).values_list("level", flat=True).first()
    return NOTHING if level is None else level


def without_batch(item: StockItem) -> Decimal:
    """What is there of an item and in no batch."""
    levels = BatchLevel.objects.filter(batch__item=item).values_list("level", flat=True)
    return level_of(item) - sum(levels, NOTHING)


@transaction.atomic
def batch_named(*, item: StockItem, number: str, use_by: dt.date | None, by: User | None) -> Batch:
    """The batch of that number, new or known; a use-by day that was not known before is kept.

    Raises:
        ValidationError: no number, a day that cannot be meant, or another one than the batch has.
    """
    hold_item(item)
    number = " ".join(number.split())
    if not number:
        raise ValidationError({"batch_number": "Enter the number on the bottle or box."})
    known = Batch.objects.filter(item=item, number__iexact=number, bottle_of=None).first()
    if use_by is not None:
        refuse_day("use_by", use_by, DayKind.HOLDS_UNTIL, kept=known.use_by if known else None)
    if known is None:
        known = Batch(item=item, number=number, use_by=use_by, by=by, at=timezone.now())
        known.full_clean(exclude=["item", "bottle_of", "by"], validate_constraints=False)
        known.save()
    elif use_by is not None and known.use_by is None:
        known.use_by = use_by
        known.save(update_fields=["use_by"])
    elif use_by is not None and known.use_by is not None and use_by != known.use_by:
        said = f"Batch {known.number} is here already, to be used by {day_in_words(known.use_by)}."
        raise ValidationError({"use_by": f"{said} Look at the day and the number again."})
    return known


@transaction.atomic
def receive_batch(
    *,
    item: StockItem,
    quantity: Decimal,
    by: User | None,
    note: str = "",
    sent_id: uuid.UUID | None = None,
    batch_number: str = "",
    use_by: dt.date | None = None,
) -> StockMovement:
    """A delivery, of the batch whose number is on it. Raises ValidationError, also for a day without a number."""
    batch = None
    if batch_number.strip() or use_by is not None:
        batch = batch_named(item=item, number=batch_number, use_by=use_by, by=by)
    return receive(item=item, quantity=quantity, by=by, note=note, sent_id=sent_id, batch=batch)


@transaction.atomic
def write_off_of(
    *,
    item: StockItem,
    batch: Batch | None,
    quantity: Decimal,
    by: User | None,
    note: str,
    sent_id: uuid.UUID | None = None,
) -> StockMovement:
    """Spilled, broken or out of date: of a batch, or of what has none.

    Raises:
        ValidationError: no reason, or more than is there of that.
    """
    hold_item(item)
    again = sent_id is not None and StockMovement.objects.filter(item=item, sent_id=sent_id).exists()
    if not again and Batch.objects.filter(item=item, kept_level__level__gt=0).exists():
        there = without_batch(item) if batch is None else level_in(batch)
        of_what = "without a batch; write the rest off at its batch" if batch is None else f"of batch {batch.number}"
        if quantity > there:
            raise ValidationError({"quantity": f"{measured(there, item.part)} is there {of_what}."})
    first = [None if batch is None else batch.pk]
    return write_off(item=item, quantity=quantity, by=by, note=note, sent_id=sent_id, first=first)


@transaction.atomic
def put_into_batch(
    *, item: StockItem, batch_number: str, use_by: dt.date | None, quantity: Decimal, by: User | None
) -> Batch:
    """Say of which batch something is that stands in the stores without one.

    Raises:
        ValidationError: a batch that cannot be, or more than is there without one.
    """
    hold_item(item)
    batch = batch_named(item=item, number=batch_number, use_by=use_by, by=by)
    there = without_batch(item)
    if not 0 < quantity <= there:
        said = f"{measured(there, item.part)} is there without a batch." if there else "All that is there has a batch."
        raise ValidationError({"quantity": said if quantity > 0 else "Enter a quantity above zero."})
    BatchMovement.objects.create(batch=batch, quantity=quantity, by=by, at=timezone.now())
    return batch


@transaction.atomic
def open_bottle(
    *,
    batch: Batch,
    quantity: Decimal | None,
    opened_on: dt.date,
    use_by: dt.date | None,
    seen_version: int,
    by: User | None,
) -> Batch:
    """A bottle of a batch is opened; where it is not all of the batch, it becomes one of its own.

    Args:
        quantity: what the bottle holds; None for all that is there of the batch.
        use_by: until when it is good once it is open; None where opening changes nothing.

    Raises:
        StaleVersion: somebody changed the batch meanwhile.
        ValidationError: it is opened already, holds less, or a day that cannot be meant.
    """
    hold_item(batch.item)
    take_version(batch, seen_version)
    there = level_in(batch)
    if batch.opened_on is not None:
        raise ValidationError(f"This bottle was opened on {day_in_words(batch.opened_on)} already.")
    if there <= 0:
        raise ValidationError("Nothing of this batch is left.")
    quantity = there if quantity is None else quantity
    if not 0 < quantity <= there:
        left = f"Only {measured(there, batch.item.part)} of this batch is there."
        raise ValidationError({"quantity": left if quantity > 0 else "Enter a quantity above zero."})
    _check_opened(batch, opened_on, use_by)
    until = batch.use_by if use_by is None else use_by
    if quantity == there:
        batch.opened_on, batch.use_by = opened_on, until
        batch.save(update_fields=["opened_on", "use_by"])
        return batch
    now = timezone.now()
    bottle = Batch(
        item=batch.item, number=batch.number, use_by=until, opened_on=opened_on, bottle_of=batch, by=by, at=now
    )
    bottle.full_clean(exclude=["item", "bottle_of", "by"], validate_constraints=False)
    bottle.save()
    BatchMovement.objects.create(batch=batch, quantity=-quantity, by=by, at=now)
    BatchMovement.objects.create(batch=bottle, quantity=quantity, by=by, at=now)
    return bottle


def _check_opened(batch: Batch, opened_on: dt.date, use_by: dt.date | None) -> None:
    refuse_day("opened_on", opened_on, DayKind.HAPPENED)
    if use_by is None:
        return
    refuse_day("use_by", use_by, DayKind.HOLDS_UNTIL)
    if use_by < opened_on:
        raise ValidationError({"use_by": "That is before it was opened."})
    if batch.use_by is not None and use_by > batch.use_by:
        raise ValidationError({"use_by": f"Closed it is good until {day_in_words(batch.use_by)}; open no longer."})


@transaction.atomic
def count_batch(*, batch: Batch, counted: Decimal, by: User | None, note: str = "") -> StockMovement | None:
    """What was counted of a batch becomes what is there of it; None if it agreed. Raises ValidationError below zero."""
    if counted < 0:
        raise ValidationError({"counted": "A count cannot be below nothing."})
    hold_item(batch.item)
    difference = counted - level_in(batch)
    if not difference:
        return None
    words = note.strip() or f"Batch {batch.number}"
    return correct_by(item=batch.item, difference=difference, by=by, note=words, batch=batch)


@transaction.atomic
def correct_batch(
    *,
    batch: Batch,
    batch_number: str,
    use_by: dt.date | None,
    seen_version: int,
    by: User | None,
    opened_on: dt.date | None = None,
) -> Batch:
    """What was written down of it was wrong. The bottles opened of it go by its number too.

    Args:
        opened_on: of one that was opened, the right day; None where it was not opened at all. What is left of a
            bottle is its batch's again then, and that is given back.

    Raises:
        StaleVersion: somebody changed it meanwhile.
        ValidationError: no number, one that another batch has, or a day that cannot be meant.
    """
    hold_item(batch.item)
    kept = batch.use_by
    take_version(batch, seen_version)
    number = " ".join(batch_number.split())
    if not number:
        raise ValidationError({"batch_number": "Enter the number on the bottle or box."})
    if use_by is not None:
        refuse_day("use_by", use_by, DayKind.HOLDS_UNTIL, kept=kept)
    if batch.bottle_of_id is not None and number != batch.number:
        raise ValidationError({"batch_number": f"A bottle has the number of its batch, {batch.number}."})
    others = Batch.objects.filter(item=batch.item_id, number__iexact=number, bottle_of=None).exclude(pk=batch.pk)
    if batch.bottle_of_id is None and others.exists():
        raise ValidationError({"batch_number": "Another batch of this part has that number."})
    if opened_on is not None:
        refuse_day("opened_on", opened_on, DayKind.HAPPENED, kept=batch.opened_on)
    if batch.bottle_of is not None and opened_on is None:
        return _put_back(batch, batch.bottle_of, by)
    batch.number, batch.use_by = number, use_by
    batch.opened_on = None if batch.opened_on is None else opened_on
    batch.full_clean(exclude=["item", "bottle_of", "by"], validate_constraints=False)
    batch.save(update_fields=["number", "use_by", "opened_on"])
    batch.bottles.update(number=number)
    return batch


def _put_back(bottle: Batch, batch: Batch, by: User | None) -> Batch:
    """What is left of a bottle that was not opened is its batch's again."""
    left, now = level_in(bottle), timezone.now()
    if left:
        BatchMovement.objects.create(batch=bottle, quantity=-left, by=by, at=now)
        BatchMovement.objects.create(batch=batch, quantity=left, by=by, at=now)
    return batch
