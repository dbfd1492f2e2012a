"""Service kits: what they take, changed by the owner, and how often the stores can build them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from specs.models import KitLine, Part, ServiceKit, SuspensionModel
from specs.stand_ins import chain_of, superseded_parts
from workshop.staff.models import Shop
from workshop.stock.sharing import NOTHING
from workshop.stock.shortages import stores_standing


@dataclass(frozen=True)
class KitStanding:
    """A kit, how often it can be built from what no open ticket wants, and the part that runs out first."""

    kit: ServiceKit
    lines: Sequence[tuple[KitLine, Decimal]]
    times: int
    first_short: KitLine | None


def kits_standing(shop: Shop, kits: Iterable[ServiceKit]) -> list[KitStanding]:
    """In a fixed number of queries; the kits come with `lines__part` prefetched. A part not kept is none there.

    What took the place of a superseded part counts with it.
    """
    free = {row.item.part_id: max(row.level - row.wanted, NOTHING) for row in stores_standing(shop).items}
    superseded = superseded_parts()
    standings = []
    for kit in kits:
        lines = [
            (line, sum((free.get(pk, NOTHING) for pk in chain_of(line.part_id, superseded)), NOTHING))
            for line in kit.lines.all()
        ]
        counts = [(int(there // line.quantity), line) for line, there in lines]
        least = min(counts, key=lambda pair: pair[0], default=None)
        standings.append(KitStanding(kit, lines, least[0] if least else 0, least[1] if least else None))
    return standings


@transaction.atomic
def make_kit(*, model: SuspensionModel, level: str) -> ServiceKit:
    """An empty kit of a model. Raises ValidationError if it has one of that level."""
    kit = ServiceKit(model=model, level=level)
    kit.full_clean(exclude=["model"], validate_constraints=False)
    if ServiceKit.objects.filter(model=model, level=level).exists():
        raise ValidationError(f"{model} has a kit for a {kit.get_level_display().lower()} already.")
    kit.save()
    return kit


class KitChangedMeanwhile(Exception):
    """Somebody set another quantity, or took the part out, after it was shown. `now` is the quantity, or None."""

    def __init__(self, now: Decimal | None) -> None:
        super().__init__("The kit was changed meanwhile.")
        self.now = now


def put_in_kit(*, kit: ServiceKit, part: Part, quantity: Decimal, note: str = "") -> KitLine:
    """A part into a kit. Raises ValidationError for nothing of it, or if it is in already."""
    line = KitLine(kit=kit, part=part, note=note.strip(), quantity=_above_zero(quantity))
    line.full_clean(exclude=["kit", "part"], validate_constraints=False)
    try:
        with transaction.atomic():
            line.save()
    except IntegrityError:
        raise ValidationError({"part": f"“{part}” is in this kit already. Change its quantity."}) from None
    return line


def set_kit_quantity(*, line: KitLine, quantity: Decimal, seen: Decimal) -> KitLine:
    """How much of a part the kit takes.

    Args:
        seen: the quantity that was on the screen.

    Raises:
        ValidationError: nothing or less.
        KitChangedMeanwhile: the kit no longer takes what was seen.
    """
    line.quantity = _above_zero(quantity)
    line.full_clean(exclude=["kit", "part"], validate_constraints=False)
    if not KitLine.objects.filter(pk=line.pk, quantity=seen).update(quantity=quantity):
        raise KitChangedMeanwhile(KitLine.objects.filter(pk=line.pk).values_list("quantity", flat=True).first())
    return line


def _above_zero(quantity: Decimal) -> Decimal:
    if quantity <= 0:
        raise ValidationError({"quantity": "Enter a quantity above zero, or remove the part."})
    return quantity
