"""Import with a dry run to say yes to, and export."""

from __future__ import annotations

import base64
from collections.abc import Callable

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from specs.models import SpecValue
from tests.factories import (
    SpecValueFactory,
)
from tests.squeezed import squeezed
from workshop.staff.models import User

pytestmark = pytest.mark.django_db

HEADER = "maker,model,year_from,quantity,travel_mm,value,unit,tolerance,source_document,source_revision,source_page\n"


def _file(*lines: str, name: str = "values.csv") -> dict[str, SimpleUploadedFile]:
    return {"file": SimpleUploadedFile(name, (HEADER + "".join(lines)).encode())}


GOOD = "Kestrigan,Plume,2021,foot_torque_air_leg,,8,N·m,,Manual,A,12\n"
BAD = "Kestrigan,Plume,2021,foot_torque_damper_leg,,80,N·m,,Manual,A,12\n"


@pytest.mark.usefixtures("plume")
def test_a_dry_run_shows_each_rows_fate_and_imports_nothing(as_role: Callable[[str], Client]) -> None:
    response = as_role("owner").post(reverse("office:specs_import"), _file(GOOD, BAD))
    html = response.content.decode()
    assert response.context["counts"] == {"new": 1, "changed": 0, "unchanged": 0, "blank": 0, "refused": 1}
    assert "line 3" in html
    assert "<code>value</code>: That is far more" in html
    assert "Import 1 value, leave 1 refused row out" in squeezed(html)
    assert not SpecValue.objects.exists()


@pytest.mark.usefixtures("plume")
def test_the_confirmed_dry_run_is_imported(as_role: Callable[[str], Client], staff: dict[str, User]) -> None:
    client = as_role("owner")
    shown = client.post(reverse("office:specs_import"), _file(GOOD)).context["confirmation"].initial
    response = client.post(reverse("office:specs_import_confirm"), shown, follow=True)
    assert "1 value is imported" in response.content.decode()
    assert SpecValue.objects.get().entered_by == staff["owner"]


@pytest.mark.usefixtures("plume")
def test_a_second_confirmation_imports_nothing_twice(as_role: Callable[[str], Client]) -> None:
    client = as_role("owner")
    shown = client.post(reverse("office:specs_import"), _file(GOOD)).context["confirmation"].initial
    client.post(reverse("office:specs_import_confirm"), shown)
    response = client.post(reverse("office:specs_import_confirm"), shown)
    assert response.status_code == 409
    assert "The specs changed after the dry run" in response.content.decode()
    assert "nothing to import" in response.content.decode()
    assert SpecValue.objects.count() == 1


@pytest.mark.usefixtures("plume")
def test_a_confirmation_of_another_file_imports_nothing(as_role: Callable[[str], Client]) -> None:
    client = as_role("owner")
    shown = dict(client.post(reverse("office:specs_import"), _file(GOOD)).context["confirmation"].initial)
    shown["content"] = base64.b64encode((HEADER + GOOD.replace(",8,", ",9,")).encode()).decode()
    assert client.post(reverse("office:specs_import_confirm"), shown).status_code == 409
    shown["content"] = "not base64!"
    assert client.post(reverse("office:specs_import_confirm"), shown).status_code == 422
    assert client.post(reverse("office:specs_import_confirm"), {}).status_code == 422
    assert not SpecValue.objects.exists()


@pytest.mark.parametrize(
    ("file", "reason"),
    [
        ({}, "required"),
        ({"file": SimpleUploadedFile("empty.csv", b"")}, "empty"),
        ({"file": SimpleUploadedFile("long.csv", b"x" * (512 * 1024 + 1))}, "larger than 512 KB"),
        ({"file": SimpleUploadedFile("picture.png", b"\x89PNG\r\n")}, "not UTF-8"),
        ({"file": SimpleUploadedFile("other.csv", b"name,size\nfork,big\n")}, "has no column"),
    ],
)
def test_a_file_that_cannot_be_read_is_refused_beside_the_field(
    as_role: Callable[[str], Client], file: dict[str, SimpleUploadedFile], reason: str
) -> None:
    response = as_role("owner").post(reverse("office:specs_import"), file)
    assert response.status_code == 422
    assert reason in response.context["form"].errors["file"][0]


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
