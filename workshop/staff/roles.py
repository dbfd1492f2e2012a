"""The roles there are, and what each may do and starts with: the one place that knows. Everything else asks a right."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from django.db import models


class Role(models.TextChoices):
    """What somebody is in the shop. A new one needs its line in ROLES, and the migration of `User.role`."""

    COUNTER = "counter", "Counter"
    MECHANIC = "mechanic", "Mechanic"
    OWNER = "owner", "Owner"


class Right(StrEnum):
    """Something that not everybody may do. In a template: `{% if "write_at_counter" in user.rights %}`."""

    WRITE_AT_COUNTER = "write_at_counter"  # book in, hand back, change people, bikes and units
    WORK_AT_BENCH = "work_at_bench"  # take a ticket, answer steps, note times and bolts
    HAS_A_BENCH = "has_a_bench"  # what they take onto the bench is theirs, and the bench is where they come from
    WAIVE_PROOF = "waive_proof"  # answers for work that leaves without its proof
    KEEP_PARTS = "keep_parts"  # what a part is
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
        "counter:today", ("counter", "bench", "stores", "sums"), frozenset({Right.WRITE_AT_COUNTER})
    ),
    Role.MECHANIC: RoleKind("bench:board", ("bench", "counter", "stores", "sums"), _BENCH | {Right.HAS_A_BENCH}),
    Role.OWNER: RoleKind(
        "office:overview",
        ("counter", "bench", "stores", "office", "sums"),
        _BENCH | {Right.WRITE_AT_COUNTER, Right.RUN_THE_SHOP},
    ),
}
