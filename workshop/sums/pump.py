"""What a hose, a mountain and the weather do to a pump reading, and how many rounds of pumping a fork takes."""

from __future__ import annotations

from dataclasses import replace

from diagnosis.places import Carry, Place, carried
from specs.lookup import GeometryGap
from specs.physics.air_spring import (
    AirSpring,
    loss_without_repumping,
    pump_and_cycle,
    rounds_to_settle,
    settled_pressure,
)
from specs.physics.errors import ImpossibleValue
from specs.physics.pressure import after_hose
from workshop.sums.answer import NO_SOURCE, Answer, AnswerRow, Missing, Table, Writer

# What a shock pump's gauge is read to; common practice, no published source.
GAUGE_READING_PA = 6894.757293168361
MOST_ROUNDS_SHOWN = 8


def pump_sum(
    *,
    pressure_pa: float,
    write: Writer,
    chamber_m3: float | None = None,
    hose_m3: float | None = None,
    journey: Carry | None = None,
    spring: AirSpring | GeometryGap | None = None,
) -> Answer:
    """Each part that what was given allows: the hose's share, the change on the way, the rounds of pumping.

    Raises `ImpossibleValue` naming the argument where nothing can be worked out or a value cannot be.
    """
    if isinstance(spring, AirSpring):
        if pressure_pa > spring.max_pressure_pa:
            limit = write(spring.max_pressure_pa, "pressure")
            raise ImpossibleValue("pressure_pa", f"this fork’s maximum is {limit}, which is never passed")
        chamber_m3 = spring.positive_volume_m3 if chamber_m3 is None else chamber_m3
    words: list[str] = []
    rows: list[AnswerRow] = []
    tables: list[Table] = []
    warnings: list[str] = []
    if hose_m3 is not None and chamber_m3 is not None:
        _hose(pressure_pa, chamber_m3, hose_m3, write, words, rows)
    if journey is not None:
        _carry(pressure_pa, journey, spring, write, words, rows, warnings)
    if isinstance(spring, AirSpring):
        tables.append(_rounds(pressure_pa, spring, journey, write, words, rows))
    elif isinstance(spring, GeometryGap):
        words.append(_gap_words(spring))
    if not rows:
        raise Missing(
            "chamber_m3", "choose a fork, or give its chamber’s volume, or say where the bike goes: then there is a sum"
        )
    has_hose = hose_m3 is not None and chamber_m3 is not None
    return Answer(
        words=tuple(words),
        rows=tuple(rows),
        tables=tuple(tables),
        warnings=tuple(warnings),
        assumed=_assumed(has_hose, journey, spring),
        sources=_sources(has_hose, journey, spring),
    )


def _hose(
    pressure_pa: float, chamber_m3: float, hose_m3: float, write: Writer, words: list[str], rows: list[AnswerRow]
) -> None:
    shown_pa = after_hose(pressure_pa, chamber_m3, hose_m3)
    lost = write(pressure_pa - shown_pa, "pressure")
    words.append(
        f"Screw the pump on and a chamber at {write(pressure_pa, 'pressure')} shows "
        f"{write(shown_pa, 'pressure')}: the hose takes {lost}, nothing has leaked."
    )
    rows.append(AnswerRow("Shown with the hose on", write(shown_pa, "pressure"), f"{lost} into the hose"))
    rows.append(AnswerRow("Chamber, extended", write(chamber_m3, "volume")))


def _carry(
    pressure_pa: float,
    journey: Carry,
    spring: AirSpring | GeometryGap | None,
    write: Writer,
    words: list[str],
    rows: list[AnswerRow],
    warnings: list[str],
) -> None:
    here, there = journey.here, journey.there
    there_pa = journey.to_there(pressure_pa)
    warmed_pa = carried(pressure_pa, here, replace(here, temperature_k=there.temperature_k))
    words.append(
        f"Set to {write(pressure_pa, 'pressure')} here, the gauge shows {write(there_pa, 'pressure')} there "
        f"({_signed(there_pa - pressure_pa, write)})."
    )
    rows.append(AnswerRow("Shown there", write(there_pa, "pressure"), _signed(there_pa - pressure_pa, write)))
    rows.append(AnswerRow("of that, temperature", _signed(warmed_pa - pressure_pa, write)))
    rows.append(AnswerRow("of that, altitude", _signed(there_pa - warmed_pa, write)))
    rows.append(AnswerRow("Set here to have it there", write(journey.to_here(pressure_pa), "pressure")))
    if isinstance(spring, AirSpring) and there_pa > spring.max_pressure_pa:
        limit = write(spring.max_pressure_pa, "pressure")
        warnings.append(f"There the fork would be above its maximum, {limit}: set less, and look again there.")


def _rounds(
    pressure_pa: float,
    spring: AirSpring,
    journey: Carry | None,
    write: Writer,
    words: list[str],
    rows: list[AnswerRow],
) -> Table:
    ambient_pa = Place().ambient_pa if journey is None else journey.here.ambient_pa
    rounds = rounds_to_settle(spring, pressure_pa, GAUGE_READING_PA, ambient_pa=ambient_pa)
    lost_pa = loss_without_repumping(spring, pressure_pa, ambient_pa=ambient_pa)
    settled_pa = settled_pressure(spring, pressure_pa, ambient_pa=ambient_pa)
    times = "one round is enough" if rounds == 1 else f"it takes {rounds} rounds of pumping and cycling"
    words.append(
        f"From empty {times} until the reading stays; pumped once and not again it is left "
        f"{write(lost_pa, 'pressure')} low."
    )
    rows.append(AnswerRow("Rounds until it stays", f"{rounds}", f"within {write(GAUGE_READING_PA, 'pressure')}"))
    rows.append(AnswerRow("Lost if nobody re-pumps", write(lost_pa, "pressure")))
    shown = pump_and_cycle(spring, pressure_pa, min(max(rounds, 1), MOST_ROUNDS_SHOWN), ambient_pa=ambient_pa)
    table_rows = tuple(
        (f"{number}", write(after_pa, "pressure"), write(settled_pa - after_pa, "pressure"))
        for number, after_pa in enumerate(shown, start=1)
    )
    return Table("Round by round, from empty", ("Round", "After cycling", "Still missing"), table_rows)


def _gap_words(gap: GeometryGap) -> str:
    if gap.labels:
        known = ", ".join(label.lower() for label in gap.labels)
        return f"The rounds of pumping cannot be worked out; not known: {known}."
    return f"The rounds of pumping cannot be worked out. {gap.reason}"


def _signed(change_pa: float, write: Writer) -> str:
    text = write(abs(change_pa), "pressure")
    return text if text.startswith("0 ") else f"{'+' if change_pa > 0 else '−'}{text}"


def _assumed(has_hose: bool, journey: Carry | None, spring: object) -> tuple[str, ...]:
    assumed = []
    if has_hose:
        assumed.append(
            "The hose held air at the room’s pressure; a valve in the pump head that opens last makes it less."
        )
    if journey is not None:
        assumed.append("One travel, nothing leaks, a standard atmosphere; the weather moves it by a few per cent.")
    if isinstance(spring, AirSpring):
        assumed.append(
            "Pumped at full extension, then cycled to the port, slowly; the fork was empty at first. The chambers "
            "share a little more at the port than the pump reads at full extension."
        )
    return tuple(assumed)


def _sources(has_hose: bool, journey: Carry | None, spring: object) -> tuple[str, ...]:
    sources = []
    if has_hose:
        sources.append("Hose: p' = p V / (V + hose), ideal gas at one temperature.")
    if journey is not None:
        sources.append("Altitude: ISO 2533. Temperature: absolute pressure goes with kelvin.")
    if isinstance(spring, AirSpring):
        sources.append(f"Rounds: shared gas of the two chambers; a gauge is read to about 1 psi ({NO_SOURCE}).")
    return tuple(sources)
