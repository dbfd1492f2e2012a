"""Loading the invented models, values, oils, parts and kits of fixtures/specs, files that people read and edit."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from decimal import Decimal
from pathlib import Path

from django.conf import settings
from django.db import transaction
from django.utils import timezone

from specs.facts import MODEL_FACTS
from specs.models import KitLine, Oil, Part, ServiceKit, SpecValue, SuspensionModel
from specs.models.values import ALL_TRAVELS
from specs.typed_values import read_typed
from workshop.staff.models import User

FOLDER: Path = settings.BASE_DIR / "fixtures" / "specs"

ModelName = tuple[str, str, int]
Row = Mapping[str, str]
_YES_NO: Mapping[str, bool | None] = {"yes": True, "no": False, "": None}
_YES_NO_FACTS = tuple(key for key, fact in MODEL_FACTS.items() if set(fact.values) == {True, False})


@transaction.atomic
def load_demo_specs(*, entered_by: User, checked_by: User) -> None:
    """Load the demo specs; what is there already stays as it is, so a second run changes nothing.

    Args:
        entered_by: who is said to have typed the values in.
        checked_by: another person, who is said to have checked all but those of not_checked.csv.

    Raises:
        ValueError: the two are one person.
    """
    if entered_by.pk == checked_by.pk:
        raise ValueError("checked_by: a value is checked by a second person")
    models = _load_models()
    _load_values(models, entered_by=entered_by, checked_by=checked_by)
    _load_oils_and_parts()
    _load_kits(models)


def _rows(name: str) -> list[dict[str, str]]:
    with (FOLDER / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def _name(row: Row) -> ModelName:
    return row["maker"], row["model"], int(row["year_from"])


def _stored_models() -> dict[ModelName, SuspensionModel]:
    return {(model.maker, model.name, model.year_from): model for model in SuspensionModel.objects.all()}


def _load_models() -> dict[ModelName, SuspensionModel]:
    stored = _stored_models()
    SuspensionModel.objects.bulk_create(_model(row) for row in _rows("models.csv") if _name(row) not in stored)
    return _stored_models()


def _model(row: Row) -> SuspensionModel:
    facts = {key: _YES_NO[row[key]] if key in _YES_NO_FACTS else row[key] for key in MODEL_FACTS}
    return SuspensionModel(
        maker=row["maker"],
        name=row["model"],
        year_from=int(row["year_from"]),
        year_to=int(row["year_to"]) if row["year_to"] else None,
        travels_mm=[int(travel) for travel in row["travels_mm"].split()],
        is_demo=True,
        **facts,
    )


def _load_values(models: Mapping[ModelName, SuspensionModel], *, entered_by: User, checked_by: User) -> None:
    stored = set(SpecValue.objects.values_list("model_id", "quantity", "travel_mm"))
    not_checked = {(_name(row), row["quantity"], row["travel_mm"]) for row in _rows("not_checked.csv")}
    values = []
    for row in _rows("values.csv"):
        value = _value(row, models[_name(row)], entered_by)
        if (value.model_id, value.quantity, value.travel_mm) in stored:
            continue
        if (_name(row), row["quantity"], row["travel_mm"]) not in not_checked:
            value.checked_by, value.checked_at = checked_by, timezone.now()
        values.append(value)
    SpecValue.objects.bulk_create(values)


def _value(row: Row, model: SuspensionModel, entered_by: User) -> SpecValue:
    read = read_typed(
        quantity=row["quantity"], typed=f"{row['value']} {row['unit']}", unit="", tolerance=row["tolerance"]
    )
    return SpecValue(
        model=model,
        quantity=row["quantity"],
        travel_mm=int(row["travel_mm"] or ALL_TRAVELS),
        typed=read.typed,
        magnitude_si=read.magnitude_si,
        text=read.text,
        tolerance_si=read.tolerance_si,
        source_document=row["source_document"],
        source_revision=row["source_revision"],
        source_page=row["source_page"],
        entered_by=entered_by,
        is_demo=True,
    )


def _load_oils_and_parts() -> None:
    Oil.objects.bulk_create((_oil(row) for row in _rows("oils.csv")), ignore_conflicts=True)
    oils = {oil.name: oil for oil in Oil.objects.all()}
    Part.objects.bulk_create((_part(row, oils) for row in _rows("parts.csv")), ignore_conflicts=True)


def _oil(row: Row) -> Oil:
    return Oil(
        name=row["name"],
        weight_label=row["weight_label"],
        kv40_mm2_s=float(row["kv40_mm2_s"]) if row["kv40_mm2_s"] else None,
        kv100_mm2_s=float(row["kv100_mm2_s"]) if row["kv100_mm2_s"] else None,
        source_document=row["source_document"],
        is_demo=True,
    )


def _part(row: Row, oils: Mapping[str, Oil]) -> Part:
    return Part(
        number=row["number"],
        description=row["description"],
        role=row["role"],
        measure=row["measure"],
        size=row["size"],
        inside_mm=float(row["inside_mm"]) if row["inside_mm"] else None,
        section_mm=float(row["section_mm"]) if row["section_mm"] else None,
        stanchion_mm=float(row["stanchion_mm"]) if row["stanchion_mm"] else None,
        bottle_ml=Decimal(row["bottle_ml"]) if row["bottle_ml"] else None,
        oil=oils[row["oil"]] if row["oil"] else None,
        is_demo=True,
    )


def _load_kits(models: Mapping[ModelName, SuspensionModel]) -> None:
    rows = _rows("kits.csv")
    stored = set(ServiceKit.objects.values_list("model_id", "level"))
    missing = {(models[_name(row)].pk, row["level"]): models[_name(row)] for row in rows}
    kits = {
        key: ServiceKit(
            model=model, level=key[1], source_document="Demo data, invented; not a real manual", is_demo=True
        )
        for key, model in missing.items()
        if key not in stored
    }
    ServiceKit.objects.bulk_create(kits.values())
    parts = {part.number: part for part in Part.objects.all()}
    KitLine.objects.bulk_create(
        KitLine(kit=kits[key], part=parts[row["part"]], quantity=Decimal(row["quantity"]), note=row["note"])
        for row in rows
        if (key := (models[_name(row)].pk, row["level"])) in kits
    )
