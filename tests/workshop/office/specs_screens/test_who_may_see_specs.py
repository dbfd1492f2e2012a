"""Each page and each write of the specs in each role."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django.asserts import assertContains

from specs.models import SpecValue
from tests.factories import UserFactory

pytestmark = pytest.mark.django_db

ROLES = ("counter", "mechanic", "owner")


_READING = ("counter", "mechanic", "owner")
_WRITING = ("mechanic", "owner")
_OWNING = ("owner",)


@pytest.mark.parametrize("role", ROLES)
@pytest.mark.parametrize(
    ("name", "allowed"),
    [
        ("specs", _READING),
        ("specs_model", _READING),
        ("specs_versions", _READING),
        ("specs_unchecked", _READING),
        ("specs_value", _WRITING),
        ("specs_export", _WRITING),
        ("specs_model_new", _OWNING),
        ("specs_model_edit", _OWNING),
    ],
)
def test_each_page_in_each_role(
    as_role: Callable[[str], Client], torque: SpecValue, role: str, name: str, allowed: tuple[str, ...]
) -> None:
    args: dict[str, list[object]] = {
        "specs_model": [torque.model_id],
        "specs_model_edit": [torque.model_id],
        "specs_versions": [torque.model_id, torque.quantity],
        "specs_value": [torque.model_id, torque.quantity],
    }
    response = as_role(role).get(reverse(f"office:{name}", args=args.get(name, [])))
    assert response.status_code == (200 if role in allowed else 403)


@pytest.mark.parametrize("role", ROLES)
@pytest.mark.parametrize(
    ("name", "allowed"),
    [
        ("specs_check", _WRITING),
        ("specs_value", _WRITING),
        ("specs_withdraw", _WRITING),
        ("specs_model_new", _OWNING),
        ("specs_model_edit", _OWNING),
    ],
)
def test_each_write_in_each_role(
    as_role: Callable[[str], Client], torque: SpecValue, role: str, name: str, allowed: tuple[str, ...]
) -> None:
    args: dict[str, list[object]] = {
        "specs_check": [torque.pk],
        "specs_value": [torque.model_id, torque.quantity],
        "specs_withdraw": [torque.model_id, torque.quantity],
        "specs_model_edit": [torque.model_id],
    }
    response = as_role(role).post(reverse(f"office:{name}", args=args.get(name, [])))
    assert (response.status_code == 403) is (role not in allowed)


def test_nobody_signed_in_is_sent_to_sign_in(torque: SpecValue) -> None:
    response = Client().get(reverse("office:specs_model", args=[torque.model_id]))
    assert response.status_code == 302
    assert response["Location"].startswith(reverse("sign_in"))


@pytest.mark.parametrize("name", ["specs_check", "specs_withdraw"])
def test_writes_are_posted(as_role: Callable[[str], Client], torque: SpecValue, name: str) -> None:
    args: dict[str, list[object]] = {"specs_check": [torque.pk], "specs_withdraw": [torque.model_id, torque.quantity]}
    assert as_role("owner").get(reverse(f"office:{name}", args=args.get(name, []))).status_code == 405


def test_a_mechanic_comes_from_the_bench_to_the_values_and_checks_what_another_entered(
    as_role: Callable[[str], Client], torque: SpecValue
) -> None:
    """By the links of the pages alone, for the office's tabs are not his."""
    mechanic = as_role("mechanic")
    here = reverse("bench:board")
    of_the_model = reverse("office:specs_model", args=[torque.model_id])
    for following in (reverse("office:specs"), reverse("office:specs_unchecked"), of_the_model):
        assertContains(mechanic.get(here), f'href="{following}')
        here = following
    entered_by = torque.entered_by
    mechanic.post(reverse("office:specs_check", args=[torque.pk]))
    torque.refresh_from_db()
    assert torque.is_checked
    assert torque.checked_by != entered_by


def test_nobody_checks_their_own_value_whatever_roles_they_have(torque: SpecValue) -> None:
    alone = UserFactory(roles="counter mechanic owner")
    SpecValue.objects.filter(pk=torque.pk).update(entered_by=alone)
    client = Client()
    client.force_login(alone)
    response = client.post(reverse("office:specs_check", args=[torque.pk]), headers={"HX-Request": "true"})
    assertContains(response, "A second person compares it with the source.", status_code=409)
    torque.refresh_from_db()
    assert not torque.is_checked
