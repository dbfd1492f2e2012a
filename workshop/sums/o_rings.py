"""Which standard o-ring a measured one is, and how a ring would sit in a given groove."""

from __future__ import annotations

from dataclasses import dataclass

from specs.physics.seals import (
    GLAND_FILL,
    SQUEEZE,
    STRETCH,
    Motion,
    SealSize,
    gland_fill,
    nearest_sizes,
    seal_sizes,
    section_when_stretched,
    squeeze,
    stretch,
)
from workshop.sums.answer import NBSP, Answer, AnswerRow, Missing, Table, Writer, percent, share_text

COUNT = 4


@dataclass(frozen=True)
class Groove:
    """A groove as far as it was measured, in metres."""

    diameter_m: float | None = None
    depth_m: float | None = None
    width_m: float | None = None
    motion: Motion = "static"

    @property
    def is_given(self) -> bool:
        return any(value is not None for value in (self.diameter_m, self.depth_m, self.width_m))


@dataclass(frozen=True)
class Sitting:
    """Shares of one size in a groove (None where the groove was not measured for it), and what is unusual."""

    stretch: float | None
    squeeze: float | None
    fill: float | None
    doubts: tuple[str, ...]


def o_ring_sum(*, inside_m: float, section_m: float, write: Writer, groove: Groove | None = None) -> Answer:
    """The nearest standard sizes with what they deviate, and how each sits in the groove.

    Raises `ImpossibleValue` for a section that leaves no hole to speak of, or a width given without the depth.
    """
    groove = groove or Groove()
    if groove.width_m is not None and groove.depth_m is None:
        raise Missing("depth_m", "to tell how full the gland is, its depth is needed beside its width")
    sizes = nearest_sizes(inside_m * 1000, section_m * 1000, COUNT)
    nearest = sizes[0]
    tables = [_sizes_table(sizes, inside_m * 1000, section_m * 1000, write)]
    sittings = [sitting(size, groove) for size in sizes]
    warnings = _size_warnings(nearest, inside_m * 1000, section_m * 1000)
    words = [_headline(nearest, inside_m * 1000, section_m * 1000, write)]
    if groove.is_given:
        tables.append(_groove_table(sizes, sittings))
        words.append(_groove_words(nearest, sittings[0], groove))
    return Answer(
        words=tuple(words),
        rows=(
            AnswerRow("Nearest size", nearest.code, "AS568 dash number"),
            AnswerRow("Inside", _with_tolerance(nearest.inside_mm, nearest.inside_tolerance_mm, write)),
            AnswerRow("Section", _with_tolerance(nearest.section_mm, nearest.section_tolerance_mm, write)),
        ),
        tables=tuple(tables),
        warnings=warnings,
        assumed=_assumed(groove),
        sources=_sources(groove),
    )


def sitting(size: SealSize, groove: Groove) -> Sitting:
    """How one size sits: the section is thinned by the stretch before it is squeezed."""
    stretched = None if groove.diameter_m is None else stretch(size.inside_mm, groove.diameter_m * 1000)
    section_mm = size.section_mm if stretched is None else section_when_stretched(size.section_mm, stretched)
    squeezed = None if groove.depth_m is None else squeeze(section_mm, groove.depth_m * 1000)
    filled = None
    if groove.depth_m is not None and groove.width_m is not None:
        filled = gland_fill(section_mm, groove.depth_m * 1000, groove.width_m * 1000)
    checks = (
        ("stretch", stretched, STRETCH),
        ("squeeze", squeezed, SQUEEZE[groove.motion]),
        ("fill", filled, GLAND_FILL),
    )
    doubts = tuple(
        f"{name} {share_text(value)} (usual {low * 100:.0f} to {share_text(high)})"
        for name, value, (low, high) in checks
        if value is not None and not low <= value <= high
    )
    return Sitting(stretched, squeezed, filled, doubts)


def _headline(size: SealSize, inside_mm: float, section_mm: float, write: Writer) -> str:
    ring = f"{_mm(size.inside_mm, write).partition(' ')[0]} × {_mm(size.section_mm, write)}"
    if _fits(size, inside_mm, section_mm):
        return f"Most likely size {size.code}, {ring}: the measured ring is within its tolerance."
    return f"Nearest is size {size.code}, {ring}, but the measured ring is outside its tolerance."


def _fits(size: SealSize, inside_mm: float, section_mm: float) -> bool:
    return (
        abs(size.inside_mm - inside_mm) <= size.inside_tolerance_mm + 1e-9
        and abs(size.section_mm - section_mm) <= size.section_tolerance_mm + 1e-9
    )


def _sizes_table(sizes: list[SealSize], inside_mm: float, section_mm: float, write: Writer) -> Table:
    rows = tuple(
        (
            size.code,
            _with_tolerance(size.inside_mm, size.inside_tolerance_mm, write),
            percent(size.inside_mm / inside_mm - 1),
            _with_tolerance(size.section_mm, size.section_tolerance_mm, write),
            percent(size.section_mm / section_mm - 1),
            "yes" if size.size_confirmed else "no, from memory",
        )
        for size in sizes
    )
    columns = ("Size", "Inside", "against yours", "Section", "against yours", "Published")
    return Table("Nearest standard sizes", columns, rows)


def _groove_table(sizes: list[SealSize], sittings: list[Sitting]) -> Table:
    rows = tuple(
        (size.code, _share(sat.stretch), _share(sat.squeeze), _share(sat.fill), "; ".join(sat.doubts) or "as usual")
        for size, sat in zip(sizes, sittings, strict=True)
    )
    return Table("In the groove", ("Size", "Stretch", "Squeeze", "Gland fill", "Verdict"), rows)


def _groove_words(size: SealSize, sat: Sitting, groove: Groove) -> str:
    if sat.squeeze is not None and sat.squeeze <= 0:
        return f"Size {size.code} would not touch the bore: the gland is deeper than the ring is thick."
    if sat.fill is not None and sat.fill >= 1:
        return f"Size {size.code} has more rubber than the gland has room: it cannot be closed."
    if sat.doubts:
        return f"In the groove, look again at size {size.code}: {'; '.join(sat.doubts)}."
    return f"Size {size.code} sits in the groove as is usual for a {groove.motion} seal."


def _size_warnings(size: SealSize, inside_mm: float, section_mm: float) -> tuple[str, ...]:
    warnings = []
    if not _fits(size, inside_mm, section_mm):
        warnings.append(
            "No size in this table fits what was measured. It may be a metric ring, a size not listed here, or "
            "a ring that has flattened and grown in use: measure the groove too."
        )
    if not size.size_confirmed:
        warnings.append(f"The dimensions of size {size.code} are from memory: check them against the standard.")
    return tuple(warnings)


def _assumed(groove: Groove) -> tuple[str, ...]:
    sections = sorted({size.section_mm for size in seal_sizes()})
    listed = ", ".join(f"{section:g}" for section in sections[:-1]) + f" and {sections[-1]:g} mm"
    assumed = [
        "Measured clean, dry and unstretched; a used ring has flattened and grown.",
        f"Looked for among {len(seal_sizes())} sizes of section {listed}, not the whole standard.",
    ]
    if groove.is_given:
        assumed.append("A groove in a piston, sealing outward; the ring's middle values, without its tolerances.")
    return tuple(assumed)


def _sources(groove: Groove) -> tuple[str, ...]:
    sources = ["Sizes: AS568 / ISO 3601-1; tolerances of the inside diameter from memory."]
    if groove.is_given:
        sources.append("Usual squeeze, stretch and fill: handbook values, on which makers differ.")
    return tuple(sources)


def _share(share: float | None) -> str:
    return "not measured" if share is None else share_text(share, 1)


def _mm(value_mm: float, write: Writer) -> str:
    return write(value_mm / 1000, "length")


def _with_tolerance(value_mm: float, tolerance_mm: float, write: Writer) -> str:
    number, _, unit = _mm(value_mm, write).partition(" ")
    tolerance = _mm(tolerance_mm, write).partition(" ")[0]
    return f"{number} ± {tolerance} {unit}".replace(" ", NBSP)
