"""The roles there are, and what each may do and starts with: the one place that knows. Everything else asks a right."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from itertools import combinations

from django.db import models


class Role(models.TextChoices):
    """What somebody is in the shop, maybe several. A new one needs its line in ROLES, and a migration of `User`."""

    COUNTER = "counter", "Counter"
    MECHANIC = "mechanic", "Mechanic"
    OWNER = "owner", "Owner"


class Right(StrEnum):
    """Something that not everybody may do. In a template: `{% if "write_at_counter" in user.rights %}`."""

    WRITE_AT_COUNTER = "write_at_counter"  # book in, hand back, change people, bikes and units
    PUT_RIGHT = "put_right"  # move a ticket that was booked wrongly to whom it belongs, split and join visits
    MERGE_CUSTOMERS = "merge_customers"  # make one of two records of a person, which nobody takes back
    TAKE_MONEY = "take_money"  # deposits, payments, receipts; undo a hand-over that nothing was paid for
    CORRECT_TAKINGS = "correct_takings"  # count the drawer, pay back, open again what was handed over
    WORK_AT_BENCH = "work_at_bench"  # take a ticket, answer steps, note times and bolts
    HAS_A_BENCH = "has_a_bench"  # what they take onto the bench is theirs, and the bench is where they come from
    WAIVE_PROOF = "waive_proof"  # answers for work that leaves without its proof
    KEEP_PARTS = "keep_parts"  # what a part is
    SET_PRICES = "set_prices"  # what parts cost and are sold at; the owner allows it to whom they like
    KEEP_TOOLS = "keep_tools"  # torque tools and their calibration
    ENTER_SPECS = "enter_specs"  # enter and check values of models
    SIGN_CHECKLISTS = "sign_checklists"  # read a checklist through as who knows the trade, and sign it
    RUN_THE_SHOP = "run_the_shop"  # the Office, prices, people, checklists, imports


@dataclass(frozen=True)
class RoleKind:
    """What a role sees first, which areas stand in its navigation in that order, and its rights."""

    first_page: str
    areas: tuple[str, ...]
    rights: frozenset[Right]


_BENCH = frozenset(
    {
        *(Right.WORK_AT_BENCH, Right.WAIVE_PROOF, Right.KEEP_PARTS, Right.KEEP_TOOLS, Right.ENTER_SPECS),
        Right.SIGN_CHECKLISTS,
    }
)

ROLES: Mapping[str, RoleKind] = {
    Role.COUNTER: RoleKind(
        "counter:today",
        ("counter", "bench", "stores", "sums"),
        frozenset({Right.WRITE_AT_COUNTER, Right.PUT_RIGHT, Right.TAKE_MONEY}),
    ),
    Role.MECHANIC: RoleKind("bench:board", ("bench", "counter", "stores", "sums"), _BENCH | {Right.HAS_A_BENCH}),
    Role.OWNER: RoleKind(
        "office:overview",
        ("counter", "bench", "stores", "office", "sums"),
        _BENCH
        | {Right.WRITE_AT_COUNTER, Right.PUT_RIGHT, Right.MERGE_CUSTOMERS, Right.RUN_THE_SHOP, Right.SET_PRICES}
        | {Right.TAKE_MONEY, Right.CORRECT_TAKINGS},
    ),
}

OFFICE_RIGHTS = frozenset({Right.RUN_THE_SHOP, Right.SET_PRICES, Right.MERGE_CUSTOMERS, Right.CORRECT_TAKINGS})
"""What a session that began with a short code has only once the password was given."""


def together(roles: Iterable[str]) -> str:
    """Several roles as they are stored: each once, in the order above, with blanks between; a stranger's goes last."""
    wanted = set(roles)
    known = [str(role) for role in Role.values if role in wanted]
    return " ".join([*known, *sorted(wanted - set(known))])


ROLE_SETS = tuple(
    together(some) for number in range(1, len(Role.values) + 1) for some in combinations(Role.values, number)
)
"""Every lawful value of `User.roles`: so few that the database and a query can name them all."""


def sets_with(right: Right) -> list[str]:
    """The values of `User.roles` that have a right: `filter(roles__in=sets_with(Right.WORK_AT_BENCH))`."""
    return [some for some in ROLE_SETS if any(right in kind.rights for kind in kinds_of(some))]


def kinds_of(roles: str) -> list[RoleKind]:
    """What each of several roles may do and starts with; nothing for a word that is no role."""
    return [ROLES[role] for role in roles.split() if role in ROLES]


def areas_of(roles: str) -> list[str]:
    """All rooms of several roles: as in the navigation of whichever role has most, then what only another has."""
    all_areas = sorted((kind.areas for kind in kinds_of(roles)), key=len, reverse=True)
    return list(dict.fromkeys(area for areas in all_areas for area in areas))


def role_words(roles: Iterable[str]) -> str:
    """Roles as a screen lists them."""
    wanted = set(roles)
    return ", ".join(str(role.label) for role in Role if role in wanted)
