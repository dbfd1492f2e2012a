"""Values as a file to take away, and the way to bring some in."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse

from specs.models import SpecValue
from tests.factories import SpecValueFactory

pytestmark = pytest.mark.django_db


def test_the_specs_lead_the_owner_to_moving_values_in(as_role: Callable[[str], Client]) -> None:
    way = f'href="{reverse("office:move_in", args=["values"])}"'
    assert way in as_role("owner").get(reverse("office:specs")).text
    assert way not in as_role("mechanic").get(reverse("office:specs")).text


def test_the_export_is_a_file_of_the_wanted_model(as_role: Callable[[str], Client], torque: SpecValue) -> None:
    SpecValueFactory()
    client = as_role("mechanic")
    response = client.get(reverse("office:specs_export"), {"model": torque.model_id})
    assert response["Content-Type"] == "text/csv; charset=utf-8"
    assert response["Content-Disposition"].startswith('attachment; filename="spec-values-')
    assert response.content.decode("utf-8-sig").splitlines()[1:] == [
        "Kestrigan,Plume,2021,foot_torque_air_leg,,8,N·m,,Invented manual for tests,A,12"
    ]
    assert len(client.get(reverse("office:specs_export")).content.splitlines()) == 3
