"""Finding parts of the list by number, words or size, as people type them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Q

from specs.models import Part, PartNumber
from specs.numbers import NumberRefused, read_number

# How far off a measured size may be, in mm: what a caliper reads of soft rubber.
NEAR_MM = 0.15

_NUMBER = r"\d+(?:[.,]\d+)?"
_PIECE = re.compile(
    rf"(?P<sides>(?<!\S){_NUMBER}(?:\s*(?:mm\s*)?[x×*]\s*{_NUMBER}){{1,3}}(?:\s*mm\b)?(?!\s*[x×*]))"
    r"|(?P<dash>(?<!\S)(?:2-|-)(?P<code>\d{3})(?!\S))"
    rf"|(?P<measure>(?<!\S)(?P<amount>{_NUMBER})\s*(?P<unit>mm|ml)(?!\S))"
    r"|(?P<decimal>(?<!\S)\d+[.,]\d+(?!\S))"
    r"|(?P<word>\S+)",
    re.IGNORECASE,
)


_SIDES = re.compile(rf"{_NUMBER}(?:\s*[x×*]\s*{_NUMBER})+")
_ROUNDING = 1e-9  # of floats, so that 0.15 mm off is still near


@dataclass(frozen=True)
class WantedPart:
    """One thing that a part has to be: a word in its texts, or a size."""

    word: str = ""
    sides_mm: tuple[float, ...] = ()
    length_mm: float | None = None
    bottle_ml: float | None = None


def read_wanted(text: str) -> list[WantedPart]:
    """“wiper 36 mm”, “36x46x6,5” in any order, “12.4”, “-216” (or “2-216”, a size of ISO 3601-1), “500 ml”."""
    wanted = []
    for found in _PIECE.finditer(text):
        if found["sides"]:
            sides = tuple(_number(one) for one in re.findall(_NUMBER, found["sides"]))
            wanted.append(WantedPart(word=found["sides"], sides_mm=sides))
        elif found["dash"]:
            wanted.append(WantedPart(word=f"size {found['code']}"))
        elif found["measure"]:
            amount = _number(found["amount"])
            millimetres = found["unit"].lower() == "mm"
            wanted.append(
                WantedPart(
                    word=f"{amount:g} {found['unit'].lower()}",
                    length_mm=amount if millimetres else None,
                    bottle_ml=None if millimetres else amount,
                )
            )
        elif found["decimal"]:
            wanted.append(WantedPart(word=found["decimal"], sides_mm=(_number(found["decimal"]),)))
        else:
            wanted.append(WantedPart(word=found["word"]))
    return wanted


def sides_of(size: str) -> list[float]:
    """The sides in a size as it is written, in mm: “36 × 46 × 6.5 mm” is 36, 46 and 6.5; none of “35 mm stanchion”."""
    written = _SIDES.search(size)
    return [_number(one) for one in re.findall(_NUMBER, written[0])] if written else []


def part_fits(sides: Sequence[float], wanted: Sequence[float]) -> bool:
    """Whether each wanted side is one of the sides, in any order, each of them once, as near as a caliper reads."""
    left = sorted(sides)
    for one in sorted(wanted):
        near = next((side for side in left if abs(side - one) <= NEAR_MM + _ROUNDING), None)
        if near is None:
            return False
        left.remove(near)
    return True


def matching(wanted: WantedPart, part: str = "") -> Q:
    """Parts that are so; `part` is the way to the part from the records that are searched, such as "part__"."""

    def near(measure: str, millimetres: float) -> Q:
        return Q(**{f"{part}{measure}__range": (millimetres - NEAR_MM, millimetres + NEAR_MM)})

    if wanted.sides_mm:
        found = Q(**{f"{part}pk__in": _of_size(wanted.sides_mm)})
        if len(wanted.sides_mm) > 1:
            return found
        found |= _known_as(wanted.word, part)
        for word in {wanted.word, wanted.word.replace(",", ".")}:
            found |= Q(**{f"{part}number__icontains": word}) | Q(**{f"{part}description__icontains": word})
        return found
    found = Q(**{f"{part}number__icontains": wanted.word}) | Q(**{f"{part}description__icontains": wanted.word})
    found |= _known_as(wanted.word, part)
    if wanted.word.isdecimal():  # as a figure of its own: 36 is not in “ISO 3601-1”
        found |= Q(**{f"{part}size__icontains": f"{wanted.word} "}) | Q(
            **{f"{part}size__icontains": f"size {wanted.word}"}
        )
    else:
        found |= Q(**{f"{part}size__icontains": wanted.word})
    if wanted.length_mm is not None:
        for measure in ("inside_mm", "section_mm", "stanchion_mm"):
            found |= near(measure, wanted.length_mm)
    elif wanted.bottle_ml is not None:
        found |= Q(**{f"{part}bottle_ml": wanted.bottle_ml})
    else:
        roles = [value for value, label in Part.Role.choices if wanted.word.casefold() in str(label).casefold()]
        found |= Q(**{f"{part}role__in": roles})
    return found


def _known_as(word: str, part: str) -> Q:
    """Parts of which a former number, or the code on them, has the word in it."""
    return Q(**{f"{part}pk__in": PartNumber.objects.filter(number__icontains=word).order_by().values("part")})


def _of_size(wanted: Sequence[float]) -> list[int]:
    """Parts that have those sides: what is written as their size, or an O-ring's and a seal's own measures.

    Read through once, in one query: the parts of a shop are some thousands, and their sizes are words.
    """
    measured = Part.objects.exclude(size="", inside_mm=None, section_mm=None, stanchion_mm=None)
    rows = measured.order_by().values_list("pk", "size", "inside_mm", "section_mm", "stanchion_mm")
    found = []
    for pk, size, inside, section, stanchion in rows:
        ring = [one for one in (inside, section) if one is not None]
        alone = [] if stanchion is None else [stanchion]
        if any(part_fits(sides, wanted) for sides in (sides_of(size), ring, alone)):
            found.append(pk)
    return found


def _number(text: str) -> float:
    try:
        return float(read_number(text))
    except NumberRefused:  # a search need not ask: what it finds is seen at once
        return float(text.replace(",", "."))
