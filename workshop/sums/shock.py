"""The sag of a shock, at the shock and at the wheel, and the coil or the pressure for it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from specs.physics.air_can import AirCan, can_pressure_for_sag
from specs.physics.atmosphere import pressure_at_altitude
from specs.physics.coil import CoilSpring, coil_preload_for_sag, coil_rate_for_sag, coil_sag
from specs.physics.errors import ImpossibleValue
from specs.physics.leverage import leverage_of, load_on_shock, wheel_load, wheel_travel
from workshop.sums.answer import NBSP, NO_SOURCE, Answer, AnswerRow, Writer, share_text

_POUND_FORCE_AN_INCH = 4.4482216152605 / 25.4  # N/mm: pound and inch are exact (NIST SP 811)
NEWTONS_A_METRE: Mapping[str, float] = {"N/mm": 1.0, "n/mm": 1.0, "lb/in": _POUND_FORCE_AN_INCH,
                                        "lbs/in": _POUND_FORCE_AN_INCH}  # fmt: skip
"""Units in which a rate is typed, in N/mm."""


@dataclass(frozen=True)
class CoilGiven:
    """The coil that is fitted; `rate_n_per_m` is None where it is what is asked."""

    rate_n_per_m: float | None
    preload_m: float


def shock_sum(
    *,
    wheel_travel_m: float,
    stroke_m: float,
    rider_mass_kg: float,
    rear_share: float,
    sag_m: float,
    coil: CoilGiven,
    can: AirCan | None,
    altitude_m: float,
    write: Writer,
) -> Answer:
    """What carries the rider at this sag. Raises ImpossibleValue naming what cannot be."""
    leverage = leverage_of(wheel_travel_m, stroke_m)
    load_n = load_on_shock(wheel_load(rider_mass_kg, rear_share), leverage)
    at_wheel = _at_wheel(sag_m, leverage, write)
    words = [
        f"{share_text(sag_m / stroke_m)} sag is {write(sag_m, 'length')} at the shock and {at_wheel} at the wheel."
    ]
    rows = [
        AnswerRow("Leverage", f"{leverage:.2f}", "mean over the travel"),
        AnswerRow("Load on the shock", f"{load_n:.0f}{NBSP}N"),
    ]
    assumed = [
        f"{share_text(rear_share)} of the rider’s weight on the rear wheel; {NO_SOURCE}.",
        "One leverage over the whole travel, no friction. The ring on the shock has the last word.",
    ]
    sources = ["Leverage: the same work at wheel and shock (virtual work)."]
    warnings: list[str] = []
    if can is not None:
        pressure_pa = can_pressure_for_sag(can, load_n, sag_m, ambient_pa=pressure_at_altitude(altitude_m))
        words.insert(0, f"Set {write(pressure_pa, 'pressure')}.")
        rows.append(AnswerRow("Pressure", write(pressure_pa, "pressure"), "level in both chambers"))
        sources.append("Air can: both chambers as ideal gas at one temperature.")
        assumed.append("The damper’s own gas is left out; it carries a little of the load.")
    if can is None or coil.rate_n_per_m is not None:
        _coil(coil, load_n, sag_m, leverage, stroke_m, write, words, rows, warnings)
        sources.append("Coil: rate times all that it is squeezed (Hooke).")
    return Answer(tuple(words), tuple(rows), warnings=tuple(warnings), assumed=tuple(assumed), sources=tuple(sources))


def _coil(
    coil: CoilGiven, load_n: float, sag_m: float, leverage: float, stroke_m: float, write: Writer, words: list[str],
    rows: list[AnswerRow], warnings: list[str],
) -> None:  # fmt: skip
    wanted = coil_rate_for_sag(load_n, sag_m, preload_m=coil.preload_m)
    rows.append(AnswerRow("Coil for that sag", _rate(wanted), f"with {write(coil.preload_m, 'length')} of preload"))
    if coil.rate_n_per_m is None:
        words.insert(0, f"A coil of {_rate(wanted)}.")
        return
    fitted_m = coil_sag(CoilSpring(coil.rate_n_per_m, stroke_m, coil.preload_m), load_n)
    at_wheel = _at_wheel(fitted_m, leverage, write)
    words.insert(0, f"The coil that is fitted sags {write(fitted_m, 'length')}, {share_text(fitted_m / stroke_m)}; "
                    f"{at_wheel} at the wheel.")  # fmt: skip
    rows.append(AnswerRow("Coil that is fitted", _rate(coil.rate_n_per_m)))
    try:
        preload_m = coil_preload_for_sag(coil.rate_n_per_m, load_n, sag_m)
    except ImpossibleValue as error:
        warnings.append(f"No preload gives that sag: {error.reason}.")
    else:
        rows.append(AnswerRow("Its preload for that sag", write(preload_m, "length"), "the maker’s limit goes first"))


def _at_wheel(shock_m: float, leverage: float, write: Writer) -> str:
    """To the tenth of a millimetre: nobody reads the wheel's sag closer."""
    return write(round(wheel_travel(shock_m, leverage), 4), "length")


def _rate(newtons_a_metre: float) -> str:
    newtons_a_millimetre = newtons_a_metre / 1000
    return f"{newtons_a_millimetre:.1f}{NBSP}N/mm ({newtons_a_millimetre / _POUND_FORCE_AN_INCH:.0f}{NBSP}lb/in)"
