"""How the demo's forks wear over two years: a small simulation that says when each comes in, and with what.

Every number is invented. Parts wear out after ride hours that follow a Weibull distribution, so that the figures of
the Office have something to find; some visits are routine, and some come back too soon.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass

from specs.models import Part

Role = Part.Role
BEGAN_DAYS_AGO = (640, 780)
ENDED_DAYS_AGO = 45
HOURS_A_WEEK = (1.5, 2.0, 2.5, 3.0, 3.5)
ROUTINE_AFTER_HOURS = (80.0, 160.0)
COMES_BACK = 0.08
LATEST_COME_BACK = 60  # days after it was booked in
COMES_BACK_WITH_THE_SAME = 0.6


@dataclass(frozen=True)
class Wear:
    """Something that wears out: the complaint it brings, its cause, invented Weibull hours, and the parts for it."""

    complaint: str
    cause: str
    words: str
    shape: float
    scale_hours: float
    parts: tuple[str, ...]
    renews: tuple[str, ...]


_GREASE, _SEAL, _OIL, _WIPER = "port-blocked", "worn-piston-seal", "dry-lowers", "wiper-worn"
WEARS: tuple[Wear, ...] = (
    Wear("oil-at-seals", _WIPER, "There is oil on the tube after each ride.", 2.4, 170.0,
         (Role.WIPER, Role.FOAM_RING, Role.OIL), (_WIPER, _OIL)),
    Wear("harsh-or-sticky", _OIL, "It got sticky on small bumps, slowly.", 3.0, 120.0,
         (Role.FOAM_RING, Role.OIL), (_OIL,)),
    Wear("loses-air", _SEAL, "It is soft again a few days after I pump it.", 1.8, 230.0,
         (Role.SPRING_SEAL, Role.GREASE, Role.OIL), (_SEAL, _GREASE, _OIL)),
    Wear("sits-low", _GREASE, "It sits low and feels wooden.", 2.2, 200.0,
         (Role.SPRING_SEAL, Role.GREASE, Role.OIL), (_SEAL, _GREASE, _OIL)),
)  # fmt: skip
ROUTINE = Wear(
    "routine-lowers", "", "It is due for its service, nothing wrong with it.", 1.0, 1.0,
    (Role.WIPER, Role.FOAM_RING, Role.OIL), (_WIPER, _OIL),
)  # fmt: skip
UNHAPPY = Wear(
    "harsh-or-sticky", "settings-off", "It still does not feel right since I fetched it.", 1.0, 1.0, (), ()
)  # fmt: skip


@dataclass(frozen=True)
class WearVisit:
    """One visit to come: how many days ago it was booked in, and for what."""

    days_ago: float
    wear: Wear


def life_of_a_fork(chance: random.Random, hours_a_week: float) -> Iterator[WearVisit]:
    """The visits of one fork, the earliest first. The first makes everything new."""
    days_ago = float(chance.randint(*BEGAN_DAYS_AGO))
    left = {wear.cause: _hours(wear, chance) for wear in WEARS}
    yield WearVisit(days_ago, ROUTINE)
    while True:
        routine = chance.uniform(*ROUTINE_AFTER_HOURS)
        wear = min(WEARS, key=lambda one: left[one.cause])
        hours = min(routine, left[wear.cause])
        chosen = ROUTINE if routine < left[wear.cause] else wear
        days_ago -= hours / hours_a_week * 7 + 25
        if days_ago < ENDED_DAYS_AGO:
            return
        yield WearVisit(days_ago, chosen)
        left = {cause: hours_left - hours for cause, hours_left in left.items()}
        left |= {wear.cause: _hours(wear, chance) for wear in WEARS if wear.cause in chosen.renews}
        if chance.random() < COMES_BACK and days_ago > ENDED_DAYS_AGO + LATEST_COME_BACK:
            days_ago -= chance.randint(22, LATEST_COME_BACK)
            yield WearVisit(days_ago, chosen if chance.random() < COMES_BACK_WITH_THE_SAME else UNHAPPY)


def _hours(wear: Wear, chance: random.Random) -> float:
    return chance.weibullvariate(wear.scale_hours, wear.shape)
