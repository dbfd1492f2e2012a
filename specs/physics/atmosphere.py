"""Air pressure at an altitude, from the standard atmosphere of ISO 2533."""

from specs.physics.errors import require_within

SEA_LEVEL_PA = 101325.0
SEA_LEVEL_K = 288.15
LAPSE_K_PER_M = 0.0065
GRAVITY_M_S2 = 9.80665
GAS_CONSTANT_J_KG_K = 287.05287
EARTH_RADIUS_M = 6_356_766.0
LOWEST_M, HIGHEST_M = -500.0, 5000.0


def pressure_at_altitude(altitude_m: float) -> float:
    """Pressure (Pa) of the ISO 2533 atmosphere at a height above sea level as maps give it, -500 to 5000 m.

    The weather moves the true pressure by a few per cent either way. Raises `ImpossibleValue` outside the range.
    """
    require_within("altitude_m", altitude_m, LOWEST_M, HIGHEST_M)
    geopotential_m = EARTH_RADIUS_M * altitude_m / (EARTH_RADIUS_M + altitude_m)
    cooling = 1 - LAPSE_K_PER_M * geopotential_m / SEA_LEVEL_K
    return float(SEA_LEVEL_PA * cooling ** (GRAVITY_M_S2 / (GAS_CONSTANT_J_KG_K * LAPSE_K_PER_M)))
