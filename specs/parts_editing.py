"""Adding, changing and taking away parts of the list."""

from __future__ import annotations

from collections import Counter
from dataclasses import asdict, dataclass
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import ProtectedError

from specs.models import KitLine, Part, PartNumber, StandIn
from specs.physics.seals import SealSize, nearest_sizes

# Nearer than this to a standard size, in mm, a ring is of that size.
SAME_SIZE_MM = 0.05


@dataclass(frozen=True)
class PartData:
    """What is known of a part. Sizes in mm; a bottle in ml, for what is poured."""

    number: str
    description: str
    role: str = Part.Role.OTHER
    measure: str = Part.Measure.PIECE
    size: str = ""
    inside_mm: float | None = None
    section_mm: float | None = None
    stanchion_mm: float | None = None
    bottle_ml: Decimal | None = None


@transaction.atomic
def save_part(*, part: Part | None, data: PartData) -> Part:
    """Add a part, or change one. Take its version first when changing.

    Raises:
        ValidationError: a number twice, half a ring, a bottle of something counted, or another measure for a part
            that is in use: its stock would mean something else.
    """
    saved = part or Part()
    if data.measure not in Part.Measure.values:
        raise ValidationError({"measure": f"“{data.measure}” is no unit here. Parts are counted in piece or ml."})
    if data.role not in Part.Role.values:
        raise ValidationError({"role": f"“{data.role}” is none of {', '.join(Part.Role.values)}."})
    if part is not None and part.measure != data.measure and is_in_use(part):
        raise ValidationError({"measure": f"It is counted in {part.get_measure_display()} already. Add another part."})
    if (data.inside_mm is None) != (data.section_mm is None):
        missing = "section_mm" if data.section_mm is None else "inside_mm"
        raise ValidationError({missing: "A ring has an inside diameter and a thickness."})
    if data.bottle_ml is not None and data.measure != Part.Measure.ML:
        raise ValidationError({"bottle_ml": "Only what is measured in ml comes in bottles."})
    made_before = size_in_words(saved)
    for name, value in asdict(data).items():
        setattr(saved, name, value.strip() if isinstance(value, str) else value)
    if Part.objects.filter(number__iexact=saved.number).exclude(pk=saved.pk).exists():
        raise ValidationError({"number": "Another part has this number."})
    saved.full_clean(exclude=["oil"])
    if saved.size in ("", made_before):  # words of one's own stay; words made from other measures do not
        saved.size = size_in_words(saved)
    saved.save()
    return saved


@transaction.atomic
def delete_part(part: Part) -> None:
    """Take a part off the list. Raises ValidationError where it is in use, and says where."""
    kits = KitLine.objects.filter(part=part).count()
    if kits:
        raise ValidationError(f"“{part}” is in {kits} kit{'s' if kits != 1 else ''}. Remove it from them first.")
    try:
        part.delete()
    except ProtectedError as error:
        uses = Counter(str(one._meta.verbose_name) for one in error.protected_objects)
        where = ", ".join(f"{count} {name}{'s' if count != 1 else ''}" for name, count in sorted(uses.items()))
        raise ValidationError(f"“{part}” is in use ({where}), so it stays in the list.") from error


def is_in_use(part: Part) -> bool:
    """Whether a kit or anything in the shops points at the part."""
    return any(
        relation.related_model._default_manager.filter(**{relation.field.name: part}).exists()
        for relation in part._meta.related_objects
        if relation.related_model not in (PartNumber, StandIn)
    )


def standard_size(inside_mm: float, section_mm: float) -> SealSize | None:
    """The size of ISO 3601-1 / AS568 that a ring is of, if it is of one."""
    nearest = nearest_sizes(inside_mm, section_mm, count=1)[0]
    near = max(abs(nearest.inside_mm - inside_mm), abs(nearest.section_mm - section_mm)) <= SAME_SIZE_MM
    return nearest if near else None


def size_in_words(part: Part) -> str:
    """A ring by its standard size where it has one, a seal by its stanchion, oil by its bottle."""
    if part.inside_mm is not None and part.section_mm is not None:
        standard = standard_size(part.inside_mm, part.section_mm)
        code = f" (ISO 3601-1 size {standard.code})" if standard else ""
        return f"{part.inside_mm:g} × {part.section_mm:g} mm{code}"
    if part.stanchion_mm is not None:
        return f"{part.stanchion_mm:g} mm stanchion"
    if part.bottle_ml is not None:
        return f"{part.bottle_ml:g} ml bottle"
    return ""
