"""Which part stands in for which: superseded for good, or usable instead; and by what else a part is known."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping

from django.core.exceptions import ValidationError
from django.db import transaction

from specs.models import Part, PartNumber, StandIn

Kind = StandIn.Kind


@transaction.atomic
def set_stand_in(*, part: Part, other: Part, kind: str, reason: str) -> StandIn:
    """Say that another part takes this one's place, or may be used instead.

    Raises ValidationError without a reason, for itself, for one counted otherwise, or where it would go in a circle.
    """
    if not reason.strip():
        raise ValidationError({"reason": "Say why, such as “no longer made”."})
    if part.pk == other.pk:
        raise ValidationError({"other": "A part cannot stand in for itself."})
    if part.measure != other.measure:
        raise ValidationError({"other": f"“{other}” is counted in {other.get_measure_display()}, this part is not."})
    list(Part.objects.select_for_update().order_by("pk").filter(pk__in=[part.pk, other.pk]))
    if kind == Kind.SUPERSEDED and part.pk in chain_of(other.pk, superseded_parts()):
        raise ValidationError({"other": f"“{other}” is superseded by this part already: that would be a circle."})
    if kind == Kind.SUPERSEDED:
        StandIn.objects.filter(part=part, kind=kind).exclude(other=other).delete()
    stand_in = StandIn.objects.filter(part=part, other=other).first() or StandIn(part=part, other=other)
    stand_in.kind, stand_in.reason = kind, reason.strip()
    stand_in.full_clean(exclude=["part", "other"], validate_constraints=False)
    stand_in.save()
    return stand_in


def superseded_parts() -> dict[int, int]:
    """The part that took the place of each, by their keys; one query."""
    return dict(StandIn.objects.filter(kind=Kind.SUPERSEDED).values_list("part", "other"))


def chain_of(part_pk: int, superseded: Mapping[int, int]) -> list[int]:
    """A part, what took its place, and so on to the one that is made now."""
    chain = [part_pk]
    while (after := superseded.get(chain[-1])) is not None and after not in chain:
        chain.append(after)
    return chain


def stand_ins_of() -> dict[int, set[int]]:
    """For each part with any: all parts that stand for it on a ticket, those it took the place of included; one query.

    What may be used instead is one step; a row of superseded parts is followed to both ends.
    """
    superseded: dict[int, int] = {}
    instead: dict[int, set[int]] = defaultdict(set)
    for part, other, kind in StandIn.objects.values_list("part", "other", "kind"):
        if kind == Kind.SUPERSEDED:
            superseded[part] = other
        else:
            instead[part].add(other)
    same: dict[int, set[int]] = defaultdict(set)
    for part in superseded:
        for one in chain_of(part, superseded):
            same[one] |= {part}
            same[part] |= {one}
    found: dict[int, set[int]] = {}
    for part in {*same, *instead}:
        one_family = {part} | same.get(part, set())
        found[part] = one_family.union(*(instead.get(one, set()) for one in one_family)) - {part}
    return found


@transaction.atomic
def add_number(*, part: Part, kind: str, number: str) -> PartNumber:
    """A former number, or the code on the part that a scanner reads. Raises ValidationError for one that is taken."""
    number = number.strip()
    if not number:
        raise ValidationError({"number": "Enter the number."})
    taken = PartNumber.objects.filter(number__iexact=number)
    if kind == PartNumber.Kind.CODE:
        other = taken.filter(kind=kind).exclude(part=part).select_related("part").first()
        if other is not None:
            raise ValidationError({"number": f"That code is “{other.part}”'s. A code is of one part."})
    if taken.filter(part=part, kind=kind).exists():
        raise ValidationError({"number": "It has that number already."})
    made = PartNumber(part=part, kind=kind, number=number)
    made.full_clean(exclude=["part"], validate_constraints=False)
    made.save()
    return made
