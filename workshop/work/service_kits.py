"""Which kit each service on a ticket takes, and what of it is not on the ticket yet.

A service takes the kit of the largest level that its checklist's steps are part of. A model without that kit has none:
nothing of another model or another level stands in for it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from diagnosis.layout import applies
from diagnosis.layout_facts import Facts
from diagnosis.steps import current_checklists, steps_by_checklist
from specs.models import KitLine, ServiceKit
from workshop.intervals.levels import PartOfService
from workshop.tickets.models import Ticket
from workshop.work.succession import Succession, marked, parts_here

Level = ServiceKit.Level


@dataclass(frozen=True)
class KitOfService:
    """A service on the ticket: its level, and the lines of its kit; none where the model has no such kit."""

    title: str
    level: str
    lines: tuple[KitLine, ...]
    missing: tuple[KitLine, ...]
    """Those that are not on the ticket."""

    @property
    def level_in_words(self) -> str:
        return str(Level(self.level).label).lower()


def kits_of_services(ticket: Ticket) -> list[KitOfService]:
    """The services that an open ticket was booked in for, in their order; no more than five queries."""
    if not ticket.is_open:
        return []
    booked = set(ticket.complaint_keys())
    listed = [
        one
        for one in (current_checklists() if booked else [])
        if one.complaint_id in booked and one.complaint.is_routine and ticket.unit.kind in one.suits
    ]
    if not listed:
        return []
    facts, steps = ticket.unit.facts(), steps_by_checklist(listed)
    levels = {one.pk: service_level_of(steps[one.pk], facts) for one in listed}
    lines: dict[str, list[KitLine]] = {}
    if ticket.unit.model_id is not None:
        of_model = KitLine.objects.filter(kit__model=ticket.unit.model_id, kit__level__in=filter(None, levels.values()))
        of_model = marked(of_model)
        for line in of_model.select_related("kit", "part").order_by("pk"):
            lines.setdefault(line.kit.level, []).append(line)
    here = parts_here(ticket) if lines else set()
    succession = Succession.of([line for its in lines.values() for line in its], ticket.shop_id)
    return [
        _shown(one.title, level, lines.get(level, []), here, succession) for one in listed if (level := levels[one.pk])
    ]


def service_level_of(steps: Iterable[PartOfService], facts: Facts) -> str:
    """The largest level that the steps done on such a unit are part of; "" where they are part of none."""
    declared = {level for step in steps if applies(step, facts) != "no" for level in step.services}
    return next((level for level in reversed(Level.values) if level in declared), "")


def _shown(title: str, level: str, lines: list[KitLine], here: set[int], succession: Succession) -> KitOfService:
    missing = tuple(line for line in lines if not succession.is_here(line.part_id, here))
    return KitOfService(title, level, tuple(lines), missing)
