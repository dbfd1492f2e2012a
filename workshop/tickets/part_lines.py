"""Parts on a ticket: from a finding, from the service kit or by hand, and whether the stores have them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Sum
from django.utils import timezone

from diagnosis.models import Step
from specs.models import KitLine, Part, ServiceKit
from workshop.staff.models import User
from workshop.stores.figures import figures
from workshop.stores.models import StockItem
from workshop.stores.moving import levels_of, put_back_from_line, take_for_line
from workshop.tickets.logbook import log
from workshop.tickets.models import PartLine, Ticket

Source, Status = PartLine.Source, PartLine.Status

# Roles as checklists write them, where the parts list calls them otherwise.
_ROLES: Mapping[str, str] = {"air_spring_seals": Part.Role.SPRING_SEAL}
_ROLE_WORDS: Mapping[str, str] = {"coil_spring": "Coil spring"}
_IN_MILLILITRES = {Part.Role.OIL, Part.Role.GREASE}


class PartLineRefused(ValueError):
    """The line cannot be changed like that; the message says why."""


@dataclass(frozen=True)
class LineShown:
    """A line with what the stores have for it. `in_stock` is None where the shop does not keep the part."""

    line: PartLine
    in_stock: bool | None
    level: Decimal | None
    wanted_elsewhere: Decimal

    @property
    def must_be_ordered(self) -> bool:
        return self.line.status == Status.NEEDED and self.in_stock is not True


@transaction.atomic
def add_by_hand(
    *, ticket: Ticket, part: Part | None, words: str = "", quantity: Decimal, by: User | None, note: str = ""
) -> PartLine:
    """A part from the list, or in words where it is not in the list. Raises ValidationError."""
    line = _line(ticket, part, words, quantity, Source.BY_HAND, by, note=note)
    _save_new([line], ticket, by)
    return line


@transaction.atomic
def add_from_kit(*, ticket: Ticket, level: str, by: User | None) -> list[PartLine]:
    """What the model's kit of a service level takes, without what is on the ticket already.

    Raises PartLineRefused if the model has no such kit.
    """
    kit_lines = list(
        KitLine.objects.filter(kit__model=ticket.unit.model_id, kit__level=level).select_related("part")
        if ticket.unit.model_id
        else []
    )
    if not kit_lines:
        words = ServiceKit.Level(level).label.lower()
        raise PartLineRefused(f"There is no kit for a {words} of {ticket.unit.title}. Add the parts by hand.")
    here = _needed_or_used(ticket)
    lines = [
        _line(ticket, kit_line.part, "", kit_line.quantity, Source.KIT, by, note=kit_line.note)
        for kit_line in kit_lines
        if kit_line.part_id not in here
    ]
    _save_new(lines, ticket, by)
    return lines


@transaction.atomic
def add_from_answer(
    *, ticket: Ticket, step: Step, parts: Iterable[Mapping[str, Any]], by: User | None
) -> list[PartLine]:
    """The parts that an answer asks for: the model's own by their role, else a line in words.

    The same answer again adds nothing. A quantity in the answer counts pieces; how much oil or grease is the kit's.
    """
    known = _kit_parts_by_role(ticket)
    here = {(line.step_id, line.part_id, line.words) for line in ticket.part_lines.exclude(status=Status.DROPPED)}
    lines = []
    for wanted in parts:
        role = _ROLES.get(wanted["role"], wanted["role"])
        kit_line = known.get(role)
        part = kit_line.part if kit_line else None
        words = "" if part else _role_words(wanted["role"])
        quantity = Decimal(str(wanted.get("quantity") or 1))
        if kit_line is not None and role in _IN_MILLILITRES:
            quantity = kit_line.quantity
        if (step.pk, part.pk if part else None, words) not in here and not (part and part.pk in _parts(here)):
            lines.append(_line(ticket, part, words, quantity, Source.FINDING, by, step, wanted.get("note") or ""))
    _save_new(lines, ticket, by)
    return lines


@transaction.atomic
def drop_lines_of_step(*, ticket: Ticket, step: Step, by: User | None) -> int:
    """The answer was taken back: what it asked for and nobody used is needed no more."""
    lines = list(
        ticket.part_lines.filter(step=step, source=Source.FINDING, status=Status.NEEDED).select_related("part")
    )
    for line in lines:
        _change_status(line, Status.NEEDED, Status.DROPPED, by, "Part no longer needed")
    return len(lines)


@transaction.atomic
def set_quantity(*, line: PartLine, quantity: Decimal, by: User | None) -> PartLine:
    """Another quantity for a line that is still needed. Raises ValidationError, PartLineRefused."""
    before = line.quantity
    line.quantity = quantity
    _check(line)
    if not PartLine.objects.filter(pk=line.pk, status=Status.NEEDED).update(quantity=quantity):
        line.quantity = before
        raise PartLineRefused(f"“{line.title}” was used or dropped meanwhile. Its quantity stays {figures(before)}.")
    if quantity != before:
        log(
            ticket=line.ticket,
            by=by,
            text=f"Part: {line.title}",
            changes={"Quantity": [figures(before), figures(quantity)]},
        )
    return line


@transaction.atomic
def drop(*, line: PartLine, by: User | None) -> PartLine:
    """Not needed after all; it can be taken up again."""
    return _change_status(line, Status.NEEDED, Status.DROPPED, by, "Part dropped")


@transaction.atomic
def use(*, line: PartLine, by: User | None) -> PartLine:
    """Fitted, and out of the stores if the shop keeps it. Raises workshop.stores.moving.NotEnoughInStock."""
    _change_status(line, Status.NEEDED, Status.USED, by, "Part used")
    item = StockItem.objects.filter(shop=line.ticket.shop_id, part=line.part_id).select_related("part").first()
    if line.part_id and item is not None:
        take_for_line(item=item, line=line, by=by)
    return line


@transaction.atomic
def take_up_again(*, line: PartLine, by: User | None) -> PartLine:
    """Undo a drop or a use: the line is needed again and what it took is back in the stores."""
    before = line.status
    _change_status(line, before, Status.NEEDED, by, "Part needed again")
    if before == Status.USED:
        put_back_from_line(line=line, by=by)
    return line


def lines_of(ticket: Ticket) -> list[LineShown]:
    """The ticket's lines with what the stores have for them, in a number of queries that does not depend on how many.

    In stock means: the level, less what other open tickets still need, covers the line.
    """
    lines = list(ticket.part_lines.select_related("part", "step", "by").order_by("pk"))
    part_pks = {line.part_id for line in lines if line.part_id}
    items = {item.part_id: item for item in StockItem.objects.filter(shop=ticket.shop_id, part__in=part_pks)}
    levels = levels_of(item.pk for item in items.values())
    elsewhere = _needed_elsewhere(ticket, part_pks)
    shown = []
    for line in lines:
        item = items.get(line.part_id) if line.part_id else None
        level = levels.get(item.pk, Decimal(0)) if item else None
        wanted = elsewhere.get(line.part_id or 0, Decimal(0))
        in_stock = None if level is None else level - wanted >= line.quantity
        shown.append(LineShown(line, in_stock, level, wanted))
    return shown


def total_of(lines: Iterable[LineShown]) -> Decimal:
    """What the lines that are needed or used cost together; lines without a price are left out."""
    return sum((shown.line.total or Decimal(0) for shown in lines if shown.line.status != Status.DROPPED), Decimal(0))


def _needed_elsewhere(ticket: Ticket, part_pks: Iterable[int]) -> dict[int, Decimal]:
    needed = (
        PartLine.objects.filter(
            part__in=list(part_pks),
            status=Status.NEEDED,
            ticket__shop=ticket.shop_id,
            ticket__state__in=Ticket.OPEN_STATES,
        )
        .exclude(ticket=ticket)
        .order_by()
        .values("part")
        .annotate(needed=Sum("quantity"))
    )
    return {row["part"]: row["needed"] for row in needed}


def _kit_parts_by_role(ticket: Ticket) -> dict[str, KitLine]:
    """The part of each role in the model's kits; the smallest service that has it says how much."""
    if not ticket.unit.model_id:
        return {}
    order = {level: place for place, level in enumerate(ServiceKit.Level.values)}
    lines = KitLine.objects.filter(kit__model=ticket.unit.model_id).select_related("part", "kit")
    by_role: dict[str, KitLine] = {}
    for line in sorted(lines, key=lambda line: (order[line.kit.level], line.pk)):
        by_role.setdefault(line.part.role, line)
    return by_role


def _role_words(role: str) -> str:
    if role in _ROLE_WORDS:
        return _ROLE_WORDS[role]
    known = _ROLES.get(role, role)
    return str(Part.Role(known).label) if known in Part.Role.values else role.replace("_", " ").capitalize()


def _parts(here: Iterable[tuple[int | None, int | None, str]]) -> set[int]:
    return {part_pk for _, part_pk, _ in here if part_pk is not None}


def _needed_or_used(ticket: Ticket) -> set[int | None]:
    return set(ticket.part_lines.exclude(status=Status.DROPPED).values_list("part_id", flat=True))


def _line(
    ticket: Ticket,
    part: Part | None,
    words: str,
    quantity: Decimal,
    source: str,
    by: User | None,
    step: Step | None = None,
    note: str = "",
) -> PartLine:
    return PartLine(
        ticket=ticket,
        part=part,
        words=words.strip(),
        quantity=quantity,
        source=source,
        step=step,
        note=note.strip(),
        by=by,
        at=timezone.now(),
    )


def _save_new(lines: Sequence[PartLine], ticket: Ticket, by: User | None) -> None:
    """Check, price by what the stores ask today, save and log."""
    part_pks = [line.part_id for line in lines if line.part_id]
    prices = dict(StockItem.objects.filter(shop=ticket.shop_id, part__in=part_pks).values_list("part", "price"))
    for line in lines:
        line.unit_price = prices.get(line.part_id) if line.part_id else None
        _check(line)
        line.save()
    if lines:
        named = ", ".join(f"{figures(line.quantity)} × {line.title}" for line in lines)
        log(ticket=ticket, by=by, text=f"Parts added: {named}"[:300])


def _check(line: PartLine) -> None:
    if line.part_id is None and not line.words:
        raise ValidationError({"words": "Choose a part or say in words what is needed."})
    if line.quantity <= 0:
        raise ValidationError({"quantity": "Enter a quantity above zero."})
    line.full_clean(exclude=["ticket", "part", "step", "by"], validate_constraints=False)


def _change_status(line: PartLine, before: str, after: str, by: User | None, text: str) -> PartLine:
    """One conditional UPDATE, so that of two tablets only one uses the part."""
    if not PartLine.objects.filter(pk=line.pk, status=before).update(status=after):
        line.refresh_from_db()
        raise PartLineRefused(f"“{line.title}” is already {line.get_status_display().lower()}. Look at it again.")
    line.status = after
    log(ticket=line.ticket, by=by, text=f"{text}: {figures(line.quantity)} × {line.title}"[:300])
    return line
