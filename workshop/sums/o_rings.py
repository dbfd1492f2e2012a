"""Which standard o-ring a measured one is, and how a ring would sit in a given groove."""

from __future__ import annotations

from dataclasses import dataclass

from specs.physics.seals import (
    GLAND_FILL,
    Gland,
    Motion,
    SealSize,
    floor_check,
    gland_fill,
    neighbours,
    pressed_together,
    seal_sizes,
    section_when_stretched,
    size_of,
    squeeze,
    squeeze_limits,
    stretch,
)
from workshop.sums.answer import NBSP, NO_SOURCE, Answer, AnswerRow, Missing, Table, Writer, percent, share_text

COUNT = 4


@dataclass(frozen=True)
class Ring:
    """A ring by name and size in millimetres: one of the table, or the one that was measured."""

    name: str
    inside_mm: float
    section_mm: float


@dataclass(frozen=True)
class Groove:
    """A groove as far as it was measured, in metres."""

    diameter_m: float | None = None
    depth_m: float | None = None
    width_m: float | None = None
    motion: Motion = "static"
    gland: Gland = "piston"

    @property
    def is_given(self) -> bool:
        return any(value is not None for value in (self.diameter_m, self.depth_m, self.width_m))


@dataclass(frozen=True)
class Sitting:
    """Shares of one ring in a groove (None where the groove was not measured for it), and what is unusual.

    In a rod gland `stretch` is below zero where the floor presses the ring's outside together.
    """

    stretch: float | None
    squeeze: float | None
    fill: float | None
    doubts: tuple[str, ...]


def o_ring_sum(*, inside_m: float, section_m: float, write: Writer, groove: Groove | None = None) -> Answer:
    """The standard size that a measured ring is, or that it is of none, and how it sits in the groove.

    Raises `ImpossibleValue` for a section that leaves no hole to speak of, or a width given without the depth.
    """
    groove = groove or Groove()
    if groove.width_m is not None and groove.depth_m is None:
        raise Missing("depth_m", "to tell how full the gland is, its depth is needed beside its width")
    inside_mm, section_mm = inside_m * 1000, section_m * 1000
    size = size_of(inside_mm, section_mm)
    near = neighbours(inside_mm, section_mm, COUNT)
    tables = [_sizes_table(near, inside_mm, section_mm, write)] if near else []
    words = [_headline(size, inside_mm, section_mm, write)]
    rows: tuple[AnswerRow, ...] = ()
    if size is not None:
        rows = (
            AnswerRow("Size", size.code, "AS568 dash number"),
            AnswerRow("Inside", _with_tolerance(size.inside_mm, size.inside_tolerance_mm, write)),
            AnswerRow("Section", _with_tolerance(size.section_mm, size.section_tolerance_mm, write)),
        )
    if groove.is_given:
        rings = _to_sit(size, near, inside_mm, section_mm)
        sittings = [sitting(ring, groove) for ring in rings]
        tables.append(_groove_table(rings, sittings))
        words.append(_groove_words(rings[0], sittings[0], groove))
    return Answer(
        words=tuple(words),
        rows=rows,
        tables=tuple(tables),
        warnings=_warnings(size, section_mm, groove),
        assumed=_assumed(groove),
        sources=_sources(section_mm, groove),
        from_memory=_from_memory(section_mm, groove),
    )


def sitting(ring: Ring, groove: Groove) -> Sitting:
    """How one ring sits: the section is changed by the groove's floor before it is squeezed."""
    changed = None
    if groove.diameter_m is not None:
        floor_mm = groove.diameter_m * 1000
        if groove.gland == "piston":
            changed = stretch(ring.inside_mm, floor_mm)
        else:
            changed = pressed_together(ring.inside_mm, ring.section_mm, floor_mm)
    section_mm = ring.section_mm if changed is None else section_when_stretched(ring.section_mm, changed)
    squeezed = None if groove.depth_m is None else squeeze(section_mm, groove.depth_m * 1000)
    filled = None
    if groove.depth_m is not None and groove.width_m is not None:
        filled = gland_fill(section_mm, groove.depth_m * 1000, groove.width_m * 1000)
    limits = squeeze_limits(ring.section_mm, groove.motion)
    checks = (
        *(() if changed is None else (floor_check(changed, groove.gland),)),
        ("squeeze", squeezed, (limits.low, limits.high)),
        ("fill", filled, GLAND_FILL),
    )
    doubts = tuple(
        f"{name} {share_text(value)} (usual {_number_of(low)} to {_of(high)})"
        for name, value, (low, high) in checks
        if value is not None and not low <= value <= high
    )
    return Sitting(changed, squeezed, filled, doubts)


def _of(share: float) -> str:
    """A limit as it is printed: 8.5 %, 15 %."""
    return share_text(share, 0 if round(share * 1000) % 10 == 0 else 1)


def _number_of(share: float) -> str:
    return _of(share).partition(NBSP)[0]


def _to_sit(size: SealSize | None, near: list[SealSize], inside_mm: float, section_mm: float) -> list[Ring]:
    """The size and its neighbours; a ring of no size by its own measures, for it is that ring that has to sit."""
    if size is None:
        return [Ring("The measured ring", inside_mm, section_mm)]
    sizes = [size, *(one for one in near if one != size)]
    return [Ring(f"Size {one.code}", one.inside_mm, one.section_mm) for one in sizes]


def _headline(size: SealSize | None, inside_mm: float, section_mm: float, write: Writer) -> str:
    if size is None:
        return f"Not in our table: no size of it is a ring of {_ring(inside_mm, section_mm, write)}."
    ring = _ring(size.inside_mm, size.section_mm, write)
    return f"Most likely size {size.code}, {ring}: the measured ring is within its tolerance."


def _ring(inside_mm: float, section_mm: float, write: Writer) -> str:
    return f"{_mm(inside_mm, write).partition(' ')[0]} × {_mm(section_mm, write)}"


def _sizes_table(sizes: list[SealSize], inside_mm: float, section_mm: float, write: Writer) -> Table:
    rows = tuple(
        (
            size.code,
            _with_tolerance(size.inside_mm, size.inside_tolerance_mm, write),
            percent(size.inside_mm / inside_mm - 1),
            _with_tolerance(size.section_mm, size.section_tolerance_mm, write),
            percent(size.section_mm / section_mm - 1),
        )
        for size in sizes
    )
    columns = ("Size", "Inside", "against yours", "Section", "against yours")
    return Table("Standard sizes near it", columns, rows)


def _groove_table(rings: list[Ring], sittings: list[Sitting]) -> Table:
    rows = tuple(
        (ring.name, _share(sat.stretch), _share(sat.squeeze), _share(sat.fill), "; ".join(sat.doubts) or "as usual")
        for ring, sat in zip(rings, sittings, strict=True)
    )
    return Table("In the groove", ("Ring", "Stretch", "Squeeze", "Gland fill", "Verdict"), rows)


def _groove_words(ring: Ring, sat: Sitting, groove: Groove) -> str:
    if sat.squeeze is not None and sat.squeeze <= 0:
        sealed = "bore" if groove.gland == "piston" else "rod"
        return f"{ring.name} would not touch the {sealed}: the gland is deeper than the ring is thick."
    if sat.fill is not None and sat.fill >= 1:
        return f"{ring.name} has more rubber than the gland has room: it cannot be closed."
    if sat.doubts:
        looked_at = f"{ring.name[:1].lower()}{ring.name[1:]}"
        return f"In the groove, look again at {looked_at}: {'; '.join(sat.doubts)}."
    return f"{ring.name} sits in the groove as is usual for a {groove.motion} seal."


def _warnings(size: SealSize | None, section_mm: float, groove: Groove) -> tuple[str, ...]:
    warnings = []
    if size is None:
        warnings.append(
            "It may be a metric ring, a size not listed here, or a ring that has flattened and grown in use: "
            "measure the groove too, and order by the measures, not by a size that is near."
        )
    if groove.depth_m is not None and not squeeze_limits(section_mm, groove.motion).published:
        warnings.append(
            "The usual squeeze of a ring this thick is not verified against a published source: "
            "the maker’s groove goes first."
        )
    return tuple(warnings)


def _assumed(groove: Groove) -> tuple[str, ...]:
    sections = sorted({size.section_mm for size in seal_sizes()})
    listed = ", ".join(f"{section:g}" for section in sections[:-1]) + f" and {sections[-1]:g} mm"
    assumed = [
        "Measured clean, dry and unstretched; a used ring has flattened and grown.",
        f"Looked for among {len(seal_sizes())} sizes of section {listed}, not the whole standard. Sizes are shown "
        f"beside a ring up to 5 % off inside and 10 % in section: {NO_SOURCE}.",
    ]
    if groove.is_given:
        where = "A groove in a piston, sealing outward" if groove.gland == "piston" else "A groove around a rod"
        assumed.append(f"{where}; the ring’s middle values, without its tolerances.")
    return tuple(assumed)


def _sources(section_mm: float, groove: Groove) -> tuple[str, ...]:
    sources = ["Sizes and tolerances: AS568, its inches as a published table prints them, times 25.4."]
    if groove.depth_m is not None and squeeze_limits(section_mm, groove.motion).published:
        sources.append("Usual squeeze by section: the public guide “Seal Types and Gland Design”, radial glands.")
    return tuple(sources)


def _from_memory(section_mm: float, groove: Groove) -> tuple[str, ...]:
    lines = []
    if groove.depth_m is not None and not squeeze_limits(section_mm, groove.motion).published:
        lines.append("Usual squeeze of this section.")
    if groove.diameter_m is not None:
        lines.append(
            "Usual stretch." if groove.gland == "piston" else "How far a rod gland may press the ring together."
        )
    if groove.width_m is not None:
        lines.append("Usual gland fill.")
    return tuple(lines)


def _share(share: float | None) -> str:
    return "not measured" if share is None else share_text(share, 1)


def _mm(value_mm: float, write: Writer) -> str:
    return write(value_mm / 1000, "length")


def _with_tolerance(value_mm: float, tolerance_mm: float, write: Writer) -> str:
    number, _, unit = _mm(value_mm, write).partition(" ")
    tolerance = _mm(tolerance_mm, write).partition(" ")[0]
    return f"{number} ± {tolerance} {unit}".replace(" ", NBSP)
