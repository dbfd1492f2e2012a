"""Parts that come onto a ticket: from a finding, from the service kit or by hand."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.utils import timezone

from diagnosis.models import Step
from specs.lookup import current_values
from specs.models import KitLine, Part, ServiceKit
from workshop.staff.models import User
from workshop.stock.amounts import unit_of_stock
from workshop.stock.models import StockItem
from workshop.stock.price_updates import let_prices_come_due
from workshop.tickets.logbook import log
from workshop.tickets.models import PartLine, Ticket
from workshop.web.number_words import figures
from workshop.work.part_lines import PartLineRefused, check_line, hold_open_for_parts
from workshop.work.succession import Succession, marked, parts_here

Source, Status = PartLine.Source, PartLine.Status

# Roles as checklists write them, where the parts list calls them otherwise.
_ROLES: Mapping[str, str] = {
    "air_spring_seals": Part.Role.SPRING_SEAL,
    "can_seals": Part.Role.SPRING_SEAL,
    "damper_seals": Part.Role.DAMPER_SEAL,
}
_ROLE_WORDS: Mapping[str, str] = {"coil_spring": "Coil spring"}
DAMPER_OIL = "damper_oil"
"""An oil in the parts list says by its name which it is: a damper’s is the one that the model’s value names."""
_IN_MILLILITRES = {Part.Role.OIL, Part.Role.GREASE, DAMPER_OIL}


@transaction.atomic
def add_by_hand(
    *, ticket: Ticket, part: Part | None, words: str = "", quantity: Decimal, by: User | None, note: str = ""
) -> PartLine:
    """A part from the list, or in words where it is not in the list. Raises ValidationError."""
    hold_open_for_parts(ticket)
    line = _line(ticket, part, words, quantity, Source.BY_HAND, by, note=note)
    _save_new([line], ticket, by)
    return line


@transaction.atomic
def add_priced(line: PartLine) -> PartLine:
    """A part at a price that was agreed to, whatever the stores ask today. Raises ValidationError."""
    hold_open_for_parts(line.ticket)
    check_line(line)
    line.save()
    values = {"parts": [[figures(line.quantity), line.title, unit_of_stock(line.part)]]}
    log(ticket=line.ticket, by=line.by, kind="parts_added", values=values)
    return line


@transaction.atomic
def add_from_kit(*, ticket: Ticket, level: str, by: User | None) -> list[PartLine]:
    """What the model's kit of a service level takes, without what is on the ticket already.

    Raises PartLineRefused if the model has no such kit, ValidationError on a ticket that is handed back.
    """
    hold_open_for_parts(ticket)
    kit_lines = list(
        marked(KitLine.objects.filter(kit__model=ticket.unit.model_id, kit__level=level)).select_related("part")
        if ticket.unit.model_id
        else []
    )
    if not kit_lines:
        words = ServiceKit.Level(level).label.lower()
        raise PartLineRefused(f"There is no kit for a {words} of {ticket.unit.title}. Add the parts by hand.")
    succession = Succession.of(kit_lines, ticket.shop_id)
    here = parts_here(ticket)
    lines = [
        _taken(succession, _line(ticket, kit_line.part, "", kit_line.quantity, Source.KIT, by, note=kit_line.note))
        for kit_line in kit_lines
        if not succession.is_here(kit_line.part_id, here)
    ]
    _save_new(lines, ticket, by)
    return lines


@transaction.atomic
def add_from_answer(
    *, ticket: Ticket, step: Step, parts: Iterable[Mapping[str, Any]], by: User | None
) -> list[PartLine]:
    """The parts that an answer asks for: the model's own by their role, else a line in words.

    The same answer again adds nothing, nor does a repair add what its finding asked for already. A quantity in the
    answer counts pieces; how much oil or grease is the kit's.
    """
    asked_for = list(parts)
    known = _kit_parts_by_role(ticket, names_damper_oil=any(one["role"] == DAMPER_OIL for one in asked_for))
    kept = ticket.part_lines.exclude(status=Status.DROPPED)
    here = {(line.part_id, line.role) for line in kept}
    parts_there = {pk for line in kept for pk in (line.part_id, line.instead_of_id) if pk is not None}
    succession = Succession.of(known.values(), ticket.shop_id)
    lines = []
    for wanted in asked_for:
        role = role_of_part(wanted["role"])
        kit_line = known.get(role)
        part = kit_line.part if kit_line else None
        asked = "" if part else role
        quantity = Decimal(str(wanted.get("quantity") or 1))
        if kit_line is not None and role in _IN_MILLILITRES:
            quantity = kit_line.quantity
        if part is not None and succession.is_here(part.pk, parts_there):
            continue
        if (part.pk if part else None, asked) not in here:
            words = "" if part else role_in_words(role)
            line = _line(ticket, part, words, quantity, Source.FINDING, by, step, wanted.get("note") or "")
            line.role = asked
            lines.append(_taken(succession, line))
    _save_new(lines, ticket, by)
    return lines


def _kit_parts_by_role(ticket: Ticket, *, names_damper_oil: bool) -> dict[str, KitLine]:
    """The part of each role in the model's kits; the smallest service that has it says how much.

    With `names_damper_oil` also the oil of its damper, where the model's value names one that is in a kit.
    """
    if not ticket.unit.model_id:
        return {}
    order = {level: place for place, level in enumerate(ServiceKit.Level.values)}
    lines = marked(KitLine.objects.filter(kit__model=ticket.unit.model_id)).select_related("part__oil", "kit")
    by_role: dict[str, KitLine] = {}
    damper_oil = _damper_oil_of(ticket) if names_damper_oil else ""
    for line in sorted(lines, key=lambda line: (order[line.kit.level], line.pk)):
        by_role.setdefault(line.part.role, line)
        if damper_oil and line.part.oil is not None and line.part.oil.name == damper_oil:
            by_role.setdefault(DAMPER_OIL, line)
    return by_role


def _damper_oil_of(ticket: Ticket) -> str:
    """The name of the model's damper oil for the unit's travel; "" where no value says it."""
    if ticket.unit.model is None:
        return ""
    travel_mm = round(ticket.unit.travel_m * 1000) if ticket.unit.travel_m else None
    value = current_values(ticket.unit.model, travel_mm).get(DAMPER_OIL)
    return value.text if value is not None else ""


def role_of_part(role: str) -> str:
    """A role as the parts list has it, of one as checklists write it."""
    return _ROLES.get(role, role)


def is_of_role(line: PartLine, role: str) -> bool:
    """Whether a line is of a role as checklists write it; the parts list calls a damper's oil an oil."""
    wanted = role_of_part(role)
    if line.part is None:
        return line.role == wanted
    return line.part.role == (Part.Role.OIL if wanted == DAMPER_OIL else wanted)


def role_in_words(role: str) -> str:
    """A role as people call it, of one as checklists write it."""
    role = role_of_part(role)
    if role in _ROLE_WORDS:
        return _ROLE_WORDS[role]
    return str(Part.Role(role).label) if role in Part.Role.values else role.replace("_", " ").capitalize()


def _taken(succession: Succession, line: PartLine) -> PartLine:
    """The line, of the part that took the place of its own where that is superseded and used up."""
    wanted = line.part
    if wanted is not None and (taken := succession.taken_for(wanted, line.quantity)) != wanted:
        line.part, line.instead_of = taken, wanted
        line.note = f"{line.note}, instead of {wanted.number}".removeprefix(", ")[:120]
    return line


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
    if part_pks:
        let_prices_come_due(ticket.shop_id)
    prices = dict(StockItem.objects.filter(shop=ticket.shop_id, part__in=part_pks).values_list("part", "price"))
    for line in lines:
        line.unit_price = prices.get(line.part_id) if line.part_id else None
        check_line(line)
        line.save()
    if lines:
        named = [[figures(line.quantity), line.title, unit_of_stock(line.part)] for line in lines]
        log(ticket=ticket, by=by, kind="parts_added", values={"parts": named})
