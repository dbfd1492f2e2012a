"""Parts on a ticket: from a finding, from the service kit or by hand, and whether the stores have them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from diagnosis.models import Step
from specs.models import KitLine, Part, ServiceKit
from workshop.staff.models import User
from workshop.stores.figures import figures
from workshop.stores.models import StockItem
from workshop.stores.moving import NOTHING, put_back_from_line, take_for_line
from workshop.stores.sharing import Delivery
from workshop.stores.shortages import ItemStanding, stores_standing
from workshop.tickets.logbook import log
from workshop.tickets.models import PartLine, Ticket

Source, Status = PartLine.Source, PartLine.Status

# Roles as checklists write them, where the parts list calls them otherwise.
_ROLES: Mapping[str, str] = {"air_spring_seals": Part.Role.SPRING_SEAL}
_ROLE_WORDS: Mapping[str, str] = {"coil_spring": "Coil spring"}
# A line names its step and who wrote it; what the step says to do is long and not needed for that.
_OF_STEPS_AND_PEOPLE = (
    *(f"step__{field.attname}" for field in Step._meta.concrete_fields if field.name not in {"id", "key", "title"}),
    *("by__password", "by__email", "by__last_login", "by__date_joined"),
)
_IN_MILLILITRES = {Part.Role.OIL, Part.Role.GREASE}


class PartLineRefused(ValueError):
    """The line cannot be changed like that; the message says why."""


class QuantityChanged(PartLineRefused):
    """Somebody else changed the quantity meanwhile; theirs stands."""

    def __init__(self, line: PartLine) -> None:
        super().__init__(
            f"Somebody changed “{line.title}” to {figures(line.quantity)} meanwhile. Change it again if that is wrong."
        )


@dataclass(frozen=True)
class LineShown:
    """A line with what the stores have for it. `in_stock` is None where the shop does not keep the part.

    `coming` is the order that all it lacks comes with, at the latest.
    """

    line: PartLine
    in_stock: bool | None
    level: Decimal | None
    wanted_elsewhere: Decimal
    coming: Delivery | None = None

    @property
    def must_be_ordered(self) -> bool:
        return self.line.status == Status.NEEDED and self.in_stock is not True and self.coming is None


@transaction.atomic
def add_by_hand(
    *, ticket: Ticket, part: Part | None, words: str = "", quantity: Decimal, by: User | None, note: str = ""
) -> PartLine:
    """A part from the list, or in words where it is not in the list. Raises ValidationError."""
    _hold_open(ticket)
    line = _line(ticket, part, words, quantity, Source.BY_HAND, by, note=note)
    _save_new([line], ticket, by)
    return line


@transaction.atomic
def add_from_kit(*, ticket: Ticket, level: str, by: User | None) -> list[PartLine]:
    """What the model's kit of a service level takes, without what is on the ticket already.

    Raises PartLineRefused if the model has no such kit, ValidationError on a ticket that is handed back.
    """
    _hold_open(ticket)
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
    kept = ticket.part_lines.exclude(status=Status.DROPPED).select_related("step")
    here = {(line.step.key if line.step else "", line.part_id, line.words) for line in kept}
    lines = []
    for wanted in parts:
        role = _ROLES.get(wanted["role"], wanted["role"])
        kit_line = known.get(role)
        part = kit_line.part if kit_line else None
        words = "" if part else _role_words(wanted["role"])
        quantity = Decimal(str(wanted.get("quantity") or 1))
        if kit_line is not None and role in _IN_MILLILITRES:
            quantity = kit_line.quantity
        if (step.key, part.pk if part else None, words) not in here and not (part and part.pk in _parts(here)):
            lines.append(_line(ticket, part, words, quantity, Source.FINDING, by, step, wanted.get("note") or ""))
    _save_new(lines, ticket, by)
    return lines


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
    _hold_open(line.ticket)
    before = line.quantity
    line.quantity = quantity
    _check(line)
    if not PartLine.objects.filter(pk=line.pk, status=Status.NEEDED, quantity=seen).update(quantity=quantity):
        line.refresh_from_db(fields=["quantity", "status"])
        if line.status == Status.NEEDED:
            raise QuantityChanged(line)
        raise PartLineRefused(f"“{line.title}” was {line.status} meanwhile. Its quantity stays {figures(before)}.")
    before = seen
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
    _hold_open(line.ticket)
    return _change_status(line, Status.NEEDED, Status.DROPPED, by, "Part dropped")


@transaction.atomic
def use(*, line: PartLine, by: User | None) -> PartLine:
    """Fitted, and out of the stores if the shop keeps it. Raises workshop.stores.moving.NotEnoughInStock."""
    _hold_open(line.ticket)
    _change_status(line, Status.NEEDED, Status.USED, by, "Part used")
    item = StockItem.objects.filter(shop=line.ticket.shop_id, part=line.part_id).select_related("part").first()
    if line.part_id and item is not None:
        take_for_line(item=item, line=line, by=by)
    return line


@transaction.atomic
def take_up_again(*, line: PartLine, by: User | None) -> PartLine:
    """Undo a drop or a use: the line is needed again and what it took is back in the stores."""
    _hold_open(line.ticket)
    before = line.status
    _change_status(line, before, Status.NEEDED, by, "Part needed again")
    if before == Status.USED:
        put_back_from_line(line=line, by=by)
    return line


def lines_of(ticket: Ticket) -> list[LineShown]:
    """The ticket's lines with what the stores have for them, in a number of queries that does not depend on how many.

    In stock means: shared out by the order of promises, what is there covers the line.
    """
    lines = list(ticket.part_lines.select_related("part", "step", "by").defer(*_OF_STEPS_AND_PEOPLE).order_by("pk"))
    parts = {line.part_id for line in lines if line.part_id}
    kept = stores_standing(ticket.shop, only_parts=parts).items if parts else []
    items = {row.item.part_id: row for row in kept}
    return [_shown(line, items.get(line.part_id) if line.part_id else None) for line in lines]


def _shown(line: PartLine, standing: ItemStanding | None) -> LineShown:
    if standing is None:
        return LineShown(line, None, None, NOTHING)
    own = [share for share in standing.shares if share.want.ticket_pk == line.ticket_id]
    elsewhere = standing.wanted - sum((share.want.quantity for share in own), NOTHING)
    share = next((share for share in own if share.want.line_pk == line.pk), None)
    if share is None:  # used or dropped, or the ticket is closed: it has no claim
        return LineShown(line, standing.level - elsewhere >= line.quantity, standing.level, elsewhere)
    coming = None if share.missing else share.last_delivery
    return LineShown(line, share.is_here, standing.level, elsewhere, coming)


def total_of(lines: Iterable[LineShown]) -> Decimal:
    """What the lines that are needed or used cost together; lines without a price are left out."""
    return sum((shown.line.total or Decimal(0) for shown in lines if shown.line.status != Status.DROPPED), Decimal(0))


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


def _parts(here: Iterable[tuple[str, int | None, str]]) -> set[int]:
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


def _hold_open(ticket: Ticket) -> None:
    """Hold the ticket, so that no part moves while it is handed back. Raises ValidationError after that."""
    state = Ticket.objects.select_for_update().values_list("state", flat=True).get(pk=ticket.pk)
    if state == Ticket.State.HANDED_BACK:
        raise ValidationError("This ticket is handed back; its parts and charges stand.")


def _change_status(line: PartLine, before: str, after: str, by: User | None, text: str) -> PartLine:
    """One conditional UPDATE, so that of two tablets only one uses the part."""
    if not PartLine.objects.filter(pk=line.pk, status=before).update(status=after):
        line.refresh_from_db()
        raise PartLineRefused(f"“{line.title}” is already {line.get_status_display().lower()}. Look at it again.")
    line.status = after
    log(ticket=line.ticket, by=by, text=f"{text}: {figures(line.quantity)} × {line.title}"[:300])
    return line
