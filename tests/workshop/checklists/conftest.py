"""An owner, and a draft of the checklist for a fork that sits low. Records are imported late."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from django.test import Client

if TYPE_CHECKING:
    from diagnosis.models import ChecklistDraft
    from workshop.models import User


@pytest.fixture
def owner(db: None) -> User:
    from tests.factories import UserFactory

    return UserFactory(owner=True)


@pytest.fixture
def office(client: Client, owner: User) -> Client:
    client.force_login(owner)
    return client


@pytest.fixture
def draft(owner: User) -> ChecklistDraft:
    from tests.shipped import shipped_checklist
    from workshop.checklists.drafting import start_draft

    return start_draft(checklist=shipped_checklist("sits-low"), by=owner)
