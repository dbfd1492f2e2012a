"""Known models are offered by what they are: those of the kind that is ticked come first, and each says its own."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from tests import factories as make
from tests.squeezed import squeezed

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(("ticked", "first"), [("fork", "Aldwick"), ("shock", "Zephyrine"), ("", "Aldwick")])
def test_models_of_the_ticked_kind_come_first_and_say_what_they_are(client: Client, ticked: str, first: str) -> None:
    client.force_login(make.UserFactory.create(), backend="workshop.staff.backend.StaffBackend")
    make.SuspensionModelFactory.create(maker="Quillmark", name="Aldwick", kind="fork")
    make.SuspensionModelFactory.create(maker="Quillmark", name="Zephyrine", kind="shock")
    sent = {"unit-described_as": "quillmark", "unit-kind": ticked}
    listed = squeezed(client.post(reverse("counter:book_in_models"), sent).text)
    names = ["Aldwick", "Zephyrine"]
    assert sorted(names, key=listed.index)[0] == first
    for name, kind in zip(names, ("fork", "shock"), strict=True):
        assert listed.partition(name)[2].partition("</label>")[0].count(kind) == 1
