"""What a pump, a hose, the weather and a mountain do to a gauge pressure."""

from specs.physics.atmosphere import SEA_LEVEL_PA
from specs.physics.errors import require_above_vacuum, require_not_negative, require_positive


def absolute(pressure_pa: float, ambient_pa: float = SEA_LEVEL_PA) -> float:
    """Absolute from gauge pressure."""
    require_above_vacuum("pressure_pa", pressure_pa, ambient_pa)
    return pressure_pa + ambient_pa


def gauge(absolute_pa: float, ambient_pa: float = SEA_LEVEL_PA) -> float:
    """Gauge from absolute pressure."""
    require_positive("absolute_pa", absolute_pa)
    require_positive("ambient_pa", ambient_pa)
    return absolute_pa - ambient_pa


def after_hose(pressure_pa: float, chamber_m3: float, hose_m3: float) -> float:
    """What the gauge shows once a chamber has filled the pump's hose, which held air at ambient: p V / (V + Vh).

    Exact for gauge pressures at one temperature, whatever the ambient. A non-return valve in the pump head that opens
    last makes the hose volume smaller than the hose.
    """
    require_not_negative("pressure_pa", pressure_pa)
    require_positive("chamber_m3", chamber_m3)
    require_not_negative("hose_m3", hose_m3)
    return pressure_pa * chamber_m3 / (chamber_m3 + hose_m3)


def at_temperature(pressure_pa: float, from_k: float, to_k: float, *, ambient_pa: float = SEA_LEVEL_PA) -> float:
    """Gauge pressure of a closed chamber at another temperature: absolute pressure goes with kelvin."""
    require_positive("from_k", from_k)
    require_positive("to_k", to_k)
    require_above_vacuum("pressure_pa", pressure_pa, ambient_pa)
    return (pressure_pa + ambient_pa) * to_k / from_k - ambient_pa


def at_ambient(pressure_pa: float, from_ambient_pa: float, to_ambient_pa: float) -> float:
    """Gauge pressure of a closed chamber carried to another ambient, at one temperature and one travel."""
    require_above_vacuum("pressure_pa", pressure_pa, from_ambient_pa)
    require_positive("to_ambient_pa", to_ambient_pa)
    return pressure_pa + from_ambient_pa - to_ambient_pa
