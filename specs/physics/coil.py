"""A coil spring: force, sag, the rate and preload for a sag. It has no chambers, and so no port."""

from dataclasses import dataclass

from specs.physics.errors import ImpossibleValue, require_not_negative, require_positive


@dataclass(frozen=True)
class CoilSpring:
    """A linear coil in a fork or shock. Travel counts from full extension.

    `preload_m` is how far it is squeezed when fully extended: the collar's turns times their pitch.
    Raises `ImpossibleValue` naming the field: rate and travel are above zero, preload is not below it.
    """

    rate_n_per_m: float
    travel_m: float
    preload_m: float = 0.0

    def __post_init__(self) -> None:
        require_positive("rate_n_per_m", self.rate_n_per_m)
        require_positive("travel_m", self.travel_m)
        require_not_negative("preload_m", self.preload_m)


def coil_sag(spring: CoilSpring, load_n: float) -> float:
    """Travel (m) at which a load rests, friction left out; 0 where preload alone carries it.

    Raises `ImpossibleValue` naming `load_n` for a load that takes all of the travel.
    """
    require_not_negative("load_n", load_n)
    sag_m = load_n / spring.rate_n_per_m - spring.preload_m
    if sag_m > spring.travel_m:
        raise ImpossibleValue("load_n", f"{load_n:.0f} N takes all of the travel: the coil is far too soft for it")
    return max(sag_m, 0.0)


def coil_rate_for_sag(load_n: float, sag_m: float, *, preload_m: float = 0.0) -> float:
    """Rate (N/m) of the coil that rests at a sag under a load with this preload."""
    require_positive("load_n", load_n)
    require_positive("sag_m", sag_m)
    require_not_negative("preload_m", preload_m)
    return load_n / (sag_m + preload_m)


def coil_preload_for_sag(rate_n_per_m: float, load_n: float, sag_m: float) -> float:
    """Preload (m) with which a coil rests at a sag under a load.

    Raises `ImpossibleValue` naming `rate_n_per_m` where it sags less than that without any: it is too stiff.
    """
    require_positive("rate_n_per_m", rate_n_per_m)
    require_positive("load_n", load_n)
    require_positive("sag_m", sag_m)
    preload_m = load_n / rate_n_per_m - sag_m
    if preload_m < -1e-12:
        raise ImpossibleValue("rate_n_per_m", "the coil sags less than that even without preload: it is too stiff")
    return max(preload_m, 0.0)
