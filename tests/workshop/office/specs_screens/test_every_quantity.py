"""Every quantity that is kept, walked on screen: entered, changed, checked, withdrawn, and out and in as a file."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterator

import pytest
from django.test import Client
from django.urls import reverse

from specs.models import SpecValue, SuspensionModel
from specs.quantities import QUANTITIES, Quantity
from specs.units import DIMENSIONS, from_si, number_text
from tests.known import known
from tests.moving import fates, imported, looked_at, taken_back
from workshop.sheets.models import Sheet
from workshop.staff.models import Shop, User

pytestmark = pytest.mark.django_db

KINDS = tuple(QUANTITIES.values())
every_quantity = pytest.mark.parametrize("quantity", KINDS, ids=lambda quantity: quantity.key)


def two_values(quantity: Quantity) -> tuple[str, str]:
    """Two different values that are plausible, in the quantity's own unit."""
    if quantity.dimension is None:
        return "Invented “5 W” / Ø 34 × 6", "-another, invented"
    assert quantity.low is not None
    assert quantity.high is not None
    low, high = (from_si(bound, quantity.dimension, quantity.unit) for bound in (quantity.low, quantity.high))
    shares = (0.3, 0.6)
    numbers = [low + (high - low) * share for share in shares]
    if quantity.dimension == "clicks":
        numbers = [round(number) for number in numbers]
    one, other = (f"{number_text(number, quantity.unit)} {quantity.unit}" for number in numbers)
    return one, other


def form(quantity: Quantity, typed: str, **more: object) -> dict[str, object]:
    tolerance = {} if quantity.dimension is None else {"tolerance": "10 %"}
    if quantity.dimension == "fraction":
        tolerance = {"tolerance": "1 %"}
    return {"travel_mm": 0, "typed": typed, "source_document": "Manual", "source_revision": "B", "source_page": "12",
            "seen": "", **tolerance, **more}  # fmt: skip


def current(quantity: Quantity) -> SpecValue:
    return SpecValue.objects.get(quantity=quantity.key, is_current=True)


def as_set_and_otherwise() -> list[tuple[Quantity, str]]:
    """Each as the shop's units are set; in others too where it is shown in one that a shop chooses."""
    names = [field.name for field in Shop._meta.fields]
    chosen = {name.removesuffix("_unit") for name in names if name.endswith("_unit")}
    others = [(one, "others") for one in KINDS if one.dimension in chosen]
    assert others
    return [*((one, "as set") for one in KINDS), *others]


@pytest.mark.any_database  # the tests below store each quantity, too
@pytest.mark.parametrize(("quantity", "units"), as_set_and_otherwise(), ids=lambda one: getattr(one, "key", one))
def test_it_is_entered_checked_changed_withdrawn_and_entered_again(
    as_role: Callable[[str], Client], plume: SuspensionModel, shop: Shop, quantity: Quantity, units: str
) -> None:
    if units == "others":  # the last unit a shop may read each dimension in
        for key in ("pressure", "length", "torque", "volume", "force"):
            if hasattr(shop, f"{key}_unit"):
                setattr(shop, f"{key}_unit", DIMENSIONS[key].shown_units[-1])
        shop.save()
    mechanic, owner = as_role("mechanic"), as_role("owner")
    one, other = two_values(quantity)
    url = reverse("office:specs_value", args=[plume.pk, quantity.key])
    assert mechanic.get(url).status_code == 200
    assert mechanic.post(url, form(quantity, one)).status_code == 302
    assert mechanic.post(url, form(quantity, one)).status_code == 409, "sent twice: it is there already"
    first = current(quantity)
    check = reverse("office:specs_check", args=[first.pk])
    mechanic.post(check)
    assert not current(quantity).is_checked, "nobody checks their own"
    owner.post(check)
    owner.post(check)
    assert current(quantity).is_checked

    page = owner.get(url)
    assert page.status_code == 200, "the page of a value that is stored"
    as_stored = page.context["form"].initial
    assert as_stored["typed"] == one
    assert owner.post(url, {**as_stored, "typed": other}).status_code == 302
    assert owner.post(url, {**as_stored, "typed": one}).status_code == 409, "the old page sent again"
    changed = current(quantity)
    assert (changed.number, changed.typed, changed.is_checked) == (2, other, False)
    mechanic.post(reverse("office:specs_check", args=[changed.pk]))
    assert current(quantity).is_checked

    withdraw = reverse("office:specs_withdraw", args=[plume.pk, quantity.key])
    assert owner.post(withdraw, {"why": "", "seen": changed.pk}).status_code == 422
    assert owner.post(withdraw, {"why": "Misread.", "seen": changed.pk}).status_code == 302
    assert owner.post(withdraw, {"why": "Misread.", "seen": changed.pk}).status_code == 302
    assert (current(quantity).withdrawn, current(quantity).number) == (True, 3)
    for name in ("specs_value", "specs_versions"):
        assert owner.get(reverse(f"office:{name}", args=[plume.pk, quantity.key])).status_code == 200
    assert owner.get(reverse("office:specs_model", args=[plume.pk])).status_code == 200
    assert owner.post(url, form(quantity, one)).status_code == 302
    assert current(quantity).number == 4


@every_quantity
def test_it_is_sent_again_as_stored_and_nothing_differs(
    as_role: Callable[[str], Client], plume: SuspensionModel, quantity: Quantity
) -> None:
    """The form of a stored value holds that value with its tolerance, so that saving it unread changes nothing."""
    client, url = as_role("mechanic"), reverse("office:specs_value", args=[plume.pk, quantity.key])
    client.post(url, form(quantity, two_values(quantity)[0]))
    response = client.post(url, client.get(url).context["form"].initial)
    assert response.status_code == 422
    assert "Nothing differs" in str(response.context["form"].errors["typed"])
    assert SpecValue.objects.count() == 1


def wrong_inputs(quantity: Quantity) -> Iterator[tuple[str, dict[str, object]]]:
    """Field that has to say so, and what is sent."""
    good = two_values(quantity)[0]
    yield "typed", form(quantity, "")
    yield "typed", form(quantity, "x" * 121)
    yield "source_document", form(quantity, good, source_document="")
    yield "travel_mm", form(quantity, good, travel_mm=10**30)
    yield "seen", form(quantity, good, seen="a")
    if quantity.dimension is None:
        return
    unit = quantity.unit
    for typed in ("nobody knows", f"-5 {unit}", f"{10**30} {unit}", f"{'9' * 110} {unit}", "1e400", "nan", "5 parsecs"):
        yield "typed", form(quantity, typed)
    yield "tolerance", form(quantity, good, tolerance="a bit")
    yield "tolerance", form(quantity, good, tolerance=f"-1 {unit}")
    yield "tolerance", form(quantity, good, tolerance="9" * 39)


@every_quantity
def test_what_is_wrong_is_said_at_its_field_and_nothing_is_stored(
    as_role: Callable[[str], Client], plume: SuspensionModel, quantity: Quantity
) -> None:
    client, url = as_role("mechanic"), reverse("office:specs_value", args=[plume.pk, quantity.key])
    for field, sent in wrong_inputs(quantity):
        response = client.post(url, sent)
        assert response.status_code == 422, sent
        assert field in response.context["form"].errors, sent
        assert response.context["form"]["typed"].value() == sent["typed"]
    assert not SpecValue.objects.exists()


def test_all_of_them_go_out_as_a_file_and_come_in_again(
    as_role: Callable[[str], Client], staff: dict[str, User], plume: SuspensionModel
) -> None:
    mechanic = as_role("mechanic")
    for quantity in KINDS:
        url = reverse("office:specs_value", args=[plume.pk, quantity.key])
        assert mechanic.post(url, form(quantity, two_values(quantity)[0])).status_code == 302
    sheet = mechanic.get(reverse("office:specs_export")).content
    before = _as_stored()
    assert len(before) == len(KINDS)

    shop = known(staff["owner"].shop)

    def looked(content: bytes) -> Sheet:
        return looked_at(shop, "values", content)

    assert set(fates(looked(sheet))) == {"unchanged"}
    SpecValue.objects.all().delete()
    first = looked(sheet)
    assert fates(first) == ["new"] * len(KINDS)
    imported(first)
    assert _as_stored() == before

    rows = list(csv.DictReader(io.StringIO(sheet.decode("utf-8-sig"))))
    for row in rows:
        other = two_values(QUANTITIES[row["quantity"]])[1]
        row["value"], row["unit"] = (f"'{other}" if other.startswith("-") else other), ""
    second = looked(_written(rows))
    assert fates(second) == ["changed"] * len(KINDS)
    imported(second)
    assert {value.number for value in SpecValue.objects.filter(is_current=True)} == {2}
    for row in rows:
        row["value"], row["unit"] = "", ""
    assert set(fates(looked(_written(rows)))) == {"refused"}
    for row in rows:
        row["value"] = "x" * 121
    assert set(fates(looked(_written(rows)))) == {"refused"}
    taken_back(second)
    assert _as_stored() == before


def _as_stored() -> dict[str, tuple[object, ...]]:
    """Each current value, magnitudes to nine figures: the file holds twelve."""
    return {
        value.quantity: (
            value.typed,
            value.text,
            *(None if number is None else f"{number:.9g}" for number in (value.magnitude_si, value.tolerance_si)),
        )
        for value in SpecValue.objects.filter(is_current=True)
    }


def _written(rows: list[dict[str, str]]) -> bytes:
    sheet = io.StringIO(newline="")
    writer = csv.DictWriter(sheet, fieldnames=list(rows[0]))
    writer.writeheader()
    writer.writerows(rows)
    return sheet.getvalue().encode()
