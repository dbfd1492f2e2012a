"""What pressure to set for a wanted sag, from the spring's geometry and beside it by the rule of thumb. Pure.

The load on the fork is taken from what was measured; a share of the rider's weight stands in only where the caller
gives one, and the answer then says that it is an assumption.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from diagnosis.places import Carry, Place
from specs.lookup import GeometryGap
from specs.physics.air_spring import (
    AirSpring,
    ImpossibleValue,
    axle_load_along_fork,
    equalised,
    load_at_sag,
    pressure_for_sag,
    pressure_for_sag_by_rule,
    travel_at_force,
)
from specs.physics.errors import require_positive

Writer = Callable[[float, str], str]
"""Writes an SI magnitude of a dimension in the shop's unit, such as (0.004, "length") -> "4 mm"."""

NEWTONS_A_KILOGRAM = 9.80665
# A measured load outside these shares of the rider's weight deserves a second look; common practice, no published
# source.
LEAST_SHARE, GREATEST_SHARE = 0.25, 1.1
RULE_SAYS = "The rule of thumb says"


@dataclass(frozen=True)
class MeasuredSag:
    """A sag read with the rider on the bike, at a known gauge pressure, in the shop."""

    sag_m: float
    pressure_pa: float


@dataclass(frozen=True)
class SetUp:
    """Pressures are gauge, to set in the shop. `pressure_pa` is None where the model cannot be worked out.

    `sentences` are for the customer and the mechanic alike; `assumed` and `warnings` belong beside them.
    """

    pressure_pa: float | None
    by_rule_pa: float | None
    capped: bool
    rule_capped: bool
    wanted_pa: float | None  # what the model asks for, before the maximum cut it
    at_trail_pa: float | None  # gauge that the set fork shows where it is ridden
    wanted_sag_m: float
    sag_at_setting_m: float | None  # differs from the wanted one where the maximum cut the pressure
    load_n: float | None
    share_of_rider: float | None
    sentences: tuple[str, ...]
    assumed: tuple[str, ...]
    warnings: tuple[str, ...]


def set_up(
    spring: AirSpring | GeometryGap,
    *,
    travel_m: float,
    wanted_sag_m: float,
    write: Writer,
    measured: MeasuredSag | None = None,
    rider_mass_kg: float | None = None,
    fork_share: float | None = None,
    head_angle_deg: float | None = None,
    max_pressure_pa: float | None = None,
    shop: Place | None = None,
    trail: Place | None = None,
) -> SetUp:
    """Work out the pressure to set in the shop for a sag wanted on the trail; never above the maximum.

    Args:
        spring: the geometry, or why there is none; then only the rule of thumb is given.
        wanted_sag_m: sag wanted with the rider on, from full extension.
        write: writes a magnitude in the shop's units.
        measured: preferred; the load on the fork follows from it.
        fork_share: share of the rider's weight the fork carries, used only where nothing was measured.
        head_angle_deg: from the horizontal, for a load taken from the rider's weight; None takes the load as it is.
        max_pressure_pa: the maker's maximum; a spring has its own.
        shop, trail: where the pressure is set and where the bike is ridden; None is sea level at 20 °C, and the shop.

    Raises:
        ImpossibleValue: a value that cannot be, naming `measured_sag_m`, `wanted_sag_m`, `measured_pressure_pa`,
            `rider_mass_kg`, `fork_share` or `head_angle_deg`.
    """
    shop = shop or Place()
    require_positive("wanted_sag_m", wanted_sag_m)
    if wanted_sag_m >= travel_m:
        raise ImpossibleValue("wanted_sag_m", f"sag must be less than the travel, {write(travel_m, 'length')}")
    _check_measured(measured, travel_m, write)
    maximum_pa = spring.max_pressure_pa if isinstance(spring, AirSpring) else max_pressure_pa
    carry = Carry(shop, trail or shop)
    ceiling_pa = None if maximum_pa is None else min(maximum_pa, carry.to_here(maximum_pa))

    load_n, load_source = _load(spring, measured, rider_mass_kg, fork_share, head_angle_deg, shop)
    by_rule_pa = (
        None
        if measured is None
        else carry.to_here(pressure_for_sag_by_rule(measured.pressure_pa, measured.sag_m, wanted_sag_m))
    )
    wanted_pa = None
    if isinstance(spring, AirSpring) and load_n is not None:
        wanted_pa = carry.to_here(_by_model(spring, load_n, wanted_sag_m, carry.there.ambient_pa))
    if min(wanted_pa or 0.0, by_rule_pa or 0.0) < 0.0:
        raise ImpossibleValue("wanted_sag_m", "that much sag would take less than no pressure in the shop")
    pressure_pa, capped = _cap(wanted_pa, ceiling_pa)
    rule_pa, rule_capped = _cap(by_rule_pa, ceiling_pa)
    share = None
    if load_source == "measured" and load_n is not None and rider_mass_kg is not None:
        share = load_n / (rider_mass_kg * NEWTONS_A_KILOGRAM)
    sag_m = wanted_sag_m if pressure_pa is not None else None
    if capped and isinstance(spring, AirSpring) and pressure_pa is not None and load_n is not None:
        state = equalised(spring, carry.to_there(pressure_pa), ambient_pa=carry.there.ambient_pa)
        sag_m = travel_at_force(spring, state, load_n)
    chosen_pa = pressure_pa if pressure_pa is not None else rule_pa
    made = SetUp(
        pressure_pa=pressure_pa,
        by_rule_pa=rule_pa,
        capped=capped,
        rule_capped=rule_capped,
        wanted_pa=wanted_pa,
        at_trail_pa=carry.to_there(chosen_pa) if trail is not None and chosen_pa is not None else None,
        wanted_sag_m=wanted_sag_m,
        sag_at_setting_m=sag_m,
        load_n=load_n,
        share_of_rider=share,
        sentences=(),
        assumed=_assumed(spring, load_source, fork_share, head_angle_deg, trail, write),
        warnings=_warnings(maximum_pa, chosen_pa, share),
    )
    return _with_sentences(made, spring, travel_m, maximum_pa, write)


def _percent(share: float) -> str:
    return f"{share * 100:.0f}\N{NO-BREAK SPACE}%"


def _check_measured(measured: MeasuredSag | None, travel_m: float, write: Writer) -> None:
    if measured is None:
        return
    require_positive("measured_sag_m", measured.sag_m)
    require_positive("measured_pressure_pa", measured.pressure_pa)
    if measured.sag_m > travel_m:
        raise ImpossibleValue("measured_sag_m", f"the fork has no more than {write(travel_m, 'length')} of travel")


def _load(
    spring: AirSpring | GeometryGap,
    measured: MeasuredSag | None,
    rider_mass_kg: float | None,
    fork_share: float | None,
    head_angle_deg: float | None,
    shop: Place,
) -> tuple[float | None, str]:
    """The load along the fork in N, and whether it was "measured", "assumed" or is "" unknown."""
    if measured is not None and isinstance(spring, AirSpring):
        load_n = load_at_sag(spring, measured.pressure_pa, measured.sag_m, ambient_pa=shop.ambient_pa)
        if load_n <= 0.0:
            raise ImpossibleValue(
                "measured_sag_m",
                "with that pressure this spring carries nothing so near full extension; measure both again",
            )
        return load_n, "measured"
    if rider_mass_kg is None or fork_share is None or measured is not None:
        return None, ""
    require_positive("rider_mass_kg", rider_mass_kg)
    require_positive("fork_share", fork_share)
    upright_n = rider_mass_kg * NEWTONS_A_KILOGRAM * fork_share
    return (upright_n if head_angle_deg is None else axle_load_along_fork(upright_n, head_angle_deg)), "assumed"


def _by_model(spring: AirSpring, load_n: float, wanted_sag_m: float, ambient_pa: float) -> float:
    try:
        return pressure_for_sag(spring, load_n, wanted_sag_m, ambient_pa=ambient_pa)
    except ImpossibleValue as error:
        raise ImpossibleValue("wanted_sag_m", error.reason) from error


def _cap(wanted_pa: float | None, ceiling_pa: float | None) -> tuple[float | None, bool]:
    if wanted_pa is None or ceiling_pa is None or wanted_pa <= ceiling_pa:
        return wanted_pa, False
    return ceiling_pa, True


def _with_sentences(
    made: SetUp, spring: AirSpring | GeometryGap, travel_m: float, maximum_pa: float | None, write: Writer
) -> SetUp:
    said = []
    sag = f"{write(made.wanted_sag_m, 'length')} of sag, {_percent(made.wanted_sag_m / travel_m)} of the travel"
    limit = "" if maximum_pa is None else write(maximum_pa, "pressure")
    if made.pressure_pa is not None and not made.capped:
        said.append(f"Set {write(made.pressure_pa, 'pressure')} for {sag}.")
    elif made.pressure_pa is not None and made.wanted_pa is not None and made.sag_at_setting_m is not None:
        asked = write(made.wanted_pa, "pressure")
        said.append(f"Set {write(made.pressure_pa, 'pressure')}, no more: {sag} would take {asked}.")
        said.append(
            f"The fork’s maximum is {limit} and is never passed. It then sags "
            f"{write(made.sag_at_setting_m, 'length')}, {_percent(made.sag_at_setting_m / travel_m)} of the travel."
        )
    if made.by_rule_pa is not None:
        said.append(_rule_sentence(made, limit, sag, write))
    if made.pressure_pa is None and isinstance(spring, GeometryGap):
        said.append(_gap_sentence(spring))
    if made.pressure_pa is None and made.by_rule_pa is None:
        said.append("Ride or sit on it at a known pressure and read the sag: the pressure to set follows from that.")
    if made.at_trail_pa is not None:
        said.append(f"On the trail the gauge will show {write(made.at_trail_pa, 'pressure')}; nothing has leaked.")
    return replace(made, sentences=tuple(said))


def _rule_sentence(made: SetUp, limit: str, sag: str, write: Writer) -> str:
    by_rule = write(made.by_rule_pa or 0.0, "pressure")
    cut = f" It asks for more than the maximum, {limit}, which is never passed." if made.rule_capped else ""
    if made.pressure_pa is None:
        return f"By the rule of thumb set {by_rule} for {sag}, then measure again.{cut}"
    return f"{RULE_SAYS} {by_rule}.{cut}"


def _gap_sentence(gap: GeometryGap) -> str:
    if gap.labels:
        return f"The spring itself cannot be worked out; not known: {', '.join(label.lower() for label in gap.labels)}."
    return f"The spring itself cannot be worked out. {gap.reason}"


def _assumed(
    spring: AirSpring | GeometryGap,
    load_source: str,
    fork_share: float | None,
    head_angle_deg: float | None,
    trail: Place | None,
    write: Writer,
) -> tuple[str, ...]:
    assumed = []
    if load_source == "measured":
        assumed.append("The load on the fork is what the measured sag and pressure tell of; friction is left out.")
    if load_source == "assumed" and fork_share is not None:
        lean = "its lean left out" if head_angle_deg is None else f"head angle {head_angle_deg:g}°"
        assumed.append(
            f"The fork carries {_percent(fork_share)} of the rider’s weight ({lean}): an assumption from common "
            "practice, no published source. A measured sag is better."
        )
    if isinstance(spring, AirSpring):
        assumed.append(
            "Pressures are those after cycling, chambers equalised; the lower legs closed where it is ridden."
        )
    if trail is not None:
        assumed.append(
            f"Ridden at {trail.altitude_m:.0f} m and {write(trail.temperature_k, 'temperature')}, in a standard "
            "atmosphere; the weather moves the air pressure by a few per cent."
        )
    return tuple(assumed)


def _warnings(maximum_pa: float | None, chosen_pa: float | None, share: float | None) -> tuple[str, ...]:
    warnings = []
    if maximum_pa is None and chosen_pa is not None:
        warnings.append("The fork’s maximum pressure is not known here: look it up in the maker’s manual first.")
    if share is not None and not LEAST_SHARE <= share <= GREATEST_SHARE:
        warnings.append(
            f"The fork would carry {_percent(share)} of the rider’s weight, which is unusual: "
            "read sag, pressure and weight again."
        )
    return tuple(warnings)
