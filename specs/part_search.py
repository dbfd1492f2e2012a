"""Finding parts of the list by number, words or size, as people type them."""

from __future__ import annotations

import re
from dataclasses import dataclass

from django.db.models import Q

from specs.models import Part
from specs.numbers import NumberRefused, read_number

# How far off a measured size may be, in mm: what a caliper reads of soft rubber.
NEAR_MM = 0.15

_NUMBER = r"\d+(?:[.,]\d+)?"
_PIECE = re.compile(
    rf"(?P<ring>(?P<inside>{_NUMBER})\s*(?:mm\s*)?[x×*]\s*(?P<section>{_NUMBER})(?:\s*mm\b)?(?!\s*[x×*]))"
    r"|(?P<dash>(?<!\S)(?:2-|-)(?P<code>\d{3})(?!\S))"
    rf"|(?P<measure>(?<!\S)(?P<amount>{_NUMBER})\s*(?P<unit>mm|ml)(?!\S))"
    r"|(?P<word>\S+)",
    re.IGNORECASE,
)


@dataclass(frozen=True)
class WantedPart:
    """One thing that a part has to be: a word in its texts, or a size."""

    word: str = ""
    ring_mm: tuple[float, float] | None = None
    length_mm: float | None = None
    bottle_ml: float | None = None


def read_wanted(text: str) -> list[WantedPart]:
    """“wiper 36 mm”, “12.4x1.8”, “-216” (or “2-216”, a size of ISO 3601-1), “500 ml”."""
    wanted = []
    for found in _PIECE.finditer(text):
        if found["ring"]:
            ring = (_number(found["inside"]), _number(found["section"]))
            wanted.append(WantedPart(word=found["ring"], ring_mm=ring))
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
        else:
            wanted.append(WantedPart(word=found["word"]))
    return wanted


def matching(wanted: WantedPart, part: str = "") -> Q:
    """Parts that are so; `part` is the way to the part from the records that are searched, such as "part__"."""

    def near(measure: str, millimetres: float) -> Q:
        return Q(**{f"{part}{measure}__range": (millimetres - NEAR_MM, millimetres + NEAR_MM)})

    if wanted.ring_mm is not None:
        inside, section = wanted.ring_mm
        sides = f"{inside:g} × {section:g}"
        return Q(**{f"{part}size__icontains": sides}) | near("inside_mm", inside) & near("section_mm", section)
    found = Q(**{f"{part}number__icontains": wanted.word}) | Q(**{f"{part}description__icontains": wanted.word})
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


def _number(text: str) -> float:
    try:
        return float(read_number(text))
    except NumberRefused:  # a search need not ask: what it finds is seen at once
        return float(text.replace(",", "."))
