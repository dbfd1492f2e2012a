"""One shop, a member of staff of each role, and a fork model with one value that nobody checked.

Records are imported inside the fixtures: pytest reads this file before Django is set up.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from django.test import Client

    from specs.models import SpecValue, SuspensionModel
    from workshop.staff.models import Shop, User


@pytest.fixture
def shop() -> Shop:
    from tests.factories import ShopFactory

    return ShopFactory()


@pytest.fixture
def staff(shop: Shop) -> dict[str, User]:
    from tests.factories import UserFactory

    return {role: UserFactory(shop=shop, role=role) for role in ("counter", "mechanic", "owner")}


@pytest.fixture
def as_role(staff: dict[str, User]) -> Callable[[str], Client]:
    """A client signed in as the member of staff of a role."""
    from django.test import Client

    def signed_in(role: str) -> Client:
        client = Client()
        client.force_login(staff[role])
        return client

    return signed_in


@pytest.fixture
def plume() -> SuspensionModel:
    from tests.factories import SuspensionModelFactory

    return SuspensionModelFactory(maker="Kestrigan", name="Plume", year_from=2021, travels_mm=[130, 140])


@pytest.fixture
def torque(plume: SuspensionModel) -> SpecValue:
    """8 N·m for the foot fastener of the spring side, entered by somebody else and not checked."""
    from tests.factories import SpecValueFactory, UserFactory

    return SpecValueFactory(
        model=plume, quantity="foot_torque_air_leg", typed="8 N·m", magnitude_si=8.0, entered_by=UserFactory()
    )
