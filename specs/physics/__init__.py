"""The arithmetic of a suspension workshop: pure functions and frozen dataclasses, no Django.

Every number is an SI float and carries its unit in its name (`travel_m`, `pressure_pa`, `torque_nm`); seals keep
the millimetres and oils the mm²/s and °C of their standards. Pressures are gauge unless the name says absolute.

- `air_spring`  a self-equalising fork spring: force, rest, what is stuck where, how to get it out, sag, filling
- `air_can`     the air can of a shock with its negative chamber: force, sag, pressure for a sag
- `coil`        a coil spring: force, sag, rate and preload for a sag; it has no port
- `leverage`    what a linkage makes of a shock's travel and load
- `pressure`    what a pump, a hose, the weather and a mountain do to a reading
- `atmosphere`  air pressure at an altitude (ISO 2533)
- `oil`         viscosity index, viscosity at a temperature, blends, stand-ins, what is left in a bottle
- `torque`      wrench settings, tool tolerance, and a check that catches a slipped decimal point
- `seals`       o-ring sizes, squeeze, stretch and gland fill

A value that cannot be physical raises `errors.ImpossibleValue`, a `ValueError` that names the field.
"""
