"""Fork and shock models from a sheet, with the facts that decide how they come apart; known by maker, name and year."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.core.exceptions import ValidationError

from specs.contradictions import DOUBTFUL_TWIN_CROWN, contradictions, is_doubtful_twin_crown
from specs.facts import MODEL_FACTS, choices
from specs.models import SpecValue, SuspensionModel
from workshop.office.specs_models import add_model, change_model
from workshop.sheets.columns import Column
from workshop.sheets.records import Cells, Entries, RecordSheet, check, choice_in, number_in, yes_or_no
from workshop.staff.models import Shop, User
from workshop.web.folding import fold

_YES_NO = {key for key, fact in MODEL_FACTS.items() if set(fact.values) == {True, False}}
_EARLIEST, _LATEST = 1980, 2100


def model_key(maker: str, name: str, year: object) -> tuple[str, str, str]:
    return fold(maker), fold(name), str(year)


class KnownModels:
    """Every model that is kept here; one query."""

    def __init__(self) -> None:
        self.models = {model_key(one.maker, one.name, one.year_from): one for one in SuspensionModel.objects.all()}

    def of(self, cells: Cells) -> SuspensionModel | None:
        """The model that a row names, where it is kept here."""
        return self.models.get(model_key(cells.get("maker", ""), cells.get("model", ""), cells.get("year_from", "")))

    def named(self, cells: Cells) -> SuspensionModel:
        """Raises ValidationError where no such model is kept here."""
        model = self.of(cells)
        if model is None:
            maker, name, year = (cells.get(column, "") for column in ("maker", "model", "year_from"))
            raise ValidationError({"model": f"No {maker} {name} from {year} is kept here. Bring the models in first."})
        return model


class ModelsThere(KnownModels):
    """What rows of models are about."""

    def match(self, cells: Cells) -> SuspensionModel | None:
        return self.of(cells)

    def learn(self, record: SuspensionModel, number: str) -> None:
        self.models[model_key(record.maker, record.name, record.year_from)] = record

    def customer_of(self, cells: Cells, record: SuspensionModel | None) -> int | None:
        return None


class ModelSheet(RecordSheet[SuspensionModel]):
    key = "models"
    title = "Models of forks and shocks"
    thing = "model"
    came_with = frozenset({"SpecValue"})
    shown = ("maker", "model")
    key_column = "model"
    columns = (
        Column("maker", "The maker", ("brand", "make", "hersteller"), required=True, sample="Sample maker"),
        Column("model", "The name of the model", ("name", "model name", "modell"), required=True, sample="Sample fork"),
        Column("year_from", "The first year it was made", ("year", "from", "model year", "jahr"), required=True,
               decimals=0, unit="year", sample="2021"),
        Column("year_to", "The last; empty while it is still made", ("to", "until"), decimals=0, unit="year"),
        Column("travels_mm", "Travels it is made in, parted by blanks; of a shock its strokes", ("travels", "travel"),
               unit="mm", sample="140 150 160"),
        *(Column(key, f"{fact.label}; empty is not known", unit="yes or no" if key in _YES_NO else
                 ", ".join(str(value) for value in fact.values), required=key == "kind",
                 sample={"kind": "fork", "spring_kind": "air"}.get(key, "")) for key, fact in MODEL_FACTS.items()),
    )  # fmt: skip

    def key_of(self, cells: Cells) -> str:
        return " ".join(model_key(cells.get("maker", ""), cells.get("model", ""), cells.get("year_from", "")))

    def there(self, shop: Shop, rows: Sequence[Cells]) -> ModelsThere:
        return ModelsThere()

    def get(self, shop: Shop, pk: int) -> SuspensionModel | None:
        return SuspensionModel.objects.filter(pk=pk).first()

    def uses(self, shop: Shop, record: SuspensionModel) -> list[str]:
        """Versions of values that were taken back are no use of it, and go with it."""
        has_values = SpecValue.objects.filter(model=record, taken_back_at=None).exists()
        return [*super().uses(shop, record), *(["spec values"] if has_values else [])]

    def texts(self, record: SuspensionModel) -> dict[str, str]:
        facts = {key: "" if (fact := getattr(record, key)) is None else fact for key in MODEL_FACTS}
        return {
            "maker": record.maker,
            "model": record.name,
            "year_from": str(record.year_from),
            "year_to": str(record.year_to or ""),
            "travels_mm": " ".join(map(str, record.travels_mm)),
            **{key: ("no", "yes")[fact] if isinstance(fact, bool) else str(fact) for key, fact in facts.items()},
        }

    def entries(self, shop: Shop, cells: Cells, there: Any, record: SuspensionModel | None) -> Entries:
        entries: Entries = {}
        if record is None:
            entries |= {"maker": cells["maker"], "name": cells["model"]}
        for name in ("year_from", "year_to"):
            year = number_in(cells, name, decimals=0, low=_EARLIEST, high=_LATEST)
            if year is not None:
                entries[name] = int(year)
        if travels := cells.get("travels_mm"):
            entries["travels_mm"] = _travels(travels)
        for key in MODEL_FACTS:
            if key in _YES_NO and (fact := yes_or_no(cells, key)) is not None:
                entries[key] = fact
            elif key not in _YES_NO and (chosen := choice_in(cells, key, choices(key))):
                entries[key] = chosen
        return entries

    def build(self, shop: Shop, record: SuspensionModel | None, entries: Entries) -> SuspensionModel:
        built = record or SuspensionModel()
        was_twin = built.crowns == "twin"
        for name, value in entries.items():
            setattr(built, name, value)
        if found := contradictions(built.facts()):
            raise ValidationError({key: [reason] for key, reason in found.items()})
        if built.year_to is not None and built.year_to < built.year_from:
            raise ValidationError({"year_to": f"It was first made in {built.year_from}; it cannot end before."})
        if not was_twin and is_doubtful_twin_crown(built.facts(), built.travels_mm):
            raise ValidationError({"crowns": f"{DOUBTFUL_TWIN_CROWN} If it is so, add this model by hand."})
        check(built, exclude=[])
        return built

    def save(self, shop: Shop, record: SuspensionModel | None, entries: Entries, by: User | None) -> SuspensionModel:
        self.build(shop, None if record is None else self.get(shop, record.pk), entries)
        if record is None:
            return add_model(facts=entries)
        return change_model(model=record, facts=entries, seen_version=record.version)

    def emptied(self, names: Sequence[str]) -> Entries:
        empty: dict[str, Any] = {"year_to": None, "travels_mm": []} | {
            key: None if key in _YES_NO else "" for key in MODEL_FACTS
        }
        return {name: empty[name] for name in names if name in empty}


def _travels(text: str) -> list[int]:
    parts = text.replace(",", " ").replace(";", " ").split()
    if not all(part.isdecimal() and 10 <= int(part[:5]) <= 300 for part in parts):
        raise ValidationError({"travels_mm": f"“{text[:30]}” is no list of millimetres from 10 to 300."})
    return sorted({int(part) for part in parts})
