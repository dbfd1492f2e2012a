"""Forks and shocks from a sheet. A unit is known by its old number or its serial, as the app's search has it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any

from django.core.exceptions import ValidationError
from django.utils import timezone

from specs.models import SuspensionModel
from workshop.customers.bike_sheet import OWNER_COLUMNS, BikesThere
from workshop.customers.models import Bike
from workshop.searching.candidates import WantedWords, candidates, holding
from workshop.searching.sources import UNIT
from workshop.sheets.columns import Column
from workshop.sheets.models import OldNumber
from workshop.sheets.records import (
    Cells,
    Entries,
    RecordSheet,
    check,
    choice_in,
    day_in,
    is_another,
    known_numbers,
    number_in,
    other_numbers,
    said,
)
from workshop.staff.models import Shop, User
from workshop.suspension.adding import add_unit
from workshop.suspension.editing import edit_unit
from workshop.suspension.fitting import end_fitting, fit
from workshop.suspension.models import OWN_FACTS, Fitting, SuspensionUnit
from workshop.suspension.search_text import without_separators
from workshop.suspension.unit_fields import UNIT_FIELDS, write_entries
from workshop.web.folding import fold
from workshop.web.plausible_days import DayKind, refuse_day

_WORDS = ("described_as", "serial", "notes")
_BIKE = ("bike_number", "bike_frame_number", "bike")
_FEW, _MOST = 60, 50
_FACTS = {field.name: field for field in UNIT_FIELDS if field.choices}


class UnitsThere(BikesThere):
    """The units that rows name, on which bikes they are, and the models there are."""

    def __init__(self, shop: Shop, rows: Sequence[Cells]) -> None:
        super().__init__(shop, rows, number="bike_number")
        numbers = known_numbers(shop, OldNumber.Thing.UNIT, [cells.get("number", "") for cells in rows])
        serials = {plain for cells in rows if (plain := without_separators(cells.get("serial", "")))}
        owners = {one.pk for found in self.people.names.values() for one in found}
        keys = {*numbers.values(), *_with_serials(shop, serials, few=len(rows) <= _FEW)}
        units = SuspensionUnit.objects.filter(shop=shop).select_related("model", "customer")
        self.units = list(units.filter(customer__in=owners) | units.filter(pk__in=keys))
        fittings = Fitting.objects.filter(unit__in=[unit.pk for unit in self.units], until__isnull=True)
        on = {fitting.unit_id: (fitting.bike, fitting.since) for fitting in fittings.select_related("bike")}
        for unit in self.units:
            note_fitting(unit, on.get(unit.pk))
        self.unit_numbers = other_numbers(shop, OldNumber.Thing.UNIT, rows, self.units)
        by_key = {unit.pk: unit for unit in self.units}
        self.units_by_number = {number: by_key[pk] for number, pk in numbers.items() if pk in by_key}
        wants_models = any(cells.get("model") for cells in rows)
        self.models = list(SuspensionModel.objects.all()) if wants_models else []

    def match(self, cells: Cells) -> SuspensionUnit | None:  # type: ignore[override]
        number, serial = cells.get("number", ""), without_separators(cells.get("serial", ""))
        if number in self.units_by_number:
            return self.units_by_number[number]
        owner = self.people.owner(cells)
        units = [unit for unit in self.units if not is_another(self.unit_numbers, unit, number)]
        if serial:
            found = [unit for unit in units if without_separators(unit.serial) == serial]
            same = [unit for unit in found if unit.customer_id == owner.pk]
            if len(same) > 1:
                raise ValidationError({"serial": f"{owner} has {len(same)} of this serial. Say which by its number."})
            if same:
                return same[0]
            if found:
                raise ValidationError(
                    {
                        "serial": f"{found[0]} of {found[0].customer} has this serial. If it is {owner}’s now, pass it "
                        "on there; if it is another one, correct the serial."
                    }
                )
            return None
        words = fold(self.words(cells))
        bare = [u for u in units if u.customer_id == owner.pk and not u.serial and fold(u.title) == words]
        if len(bare) > 1:
            raise ValidationError(f"{owner} has {len(bare)} of these without a serial. Say which by its number.")
        return bare[0] if bare else None

    def customer_of(  # type: ignore[override]
        self, cells: Cells, record: SuspensionUnit | None
    ) -> int | None:
        return record.customer_id if record is not None else self.people.owner(cells).pk

    def learn(self, record: SuspensionUnit, number: str) -> None:
        """That a row made a unit, or named one by a number."""
        self.units = [*(unit for unit in self.units if unit.pk != record.pk), record]
        if number:
            self.unit_numbers.setdefault(record.pk, set()).add(number)
            self.units_by_number[number] = record

    def words(self, cells: Cells) -> str:
        model = self.model(cells)
        return str(model) if model is not None else cells.get("described_as", "") or _in_words(cells)

    def model(self, cells: Cells) -> SuspensionModel | None:
        """The model that is kept here under maker, name and first year; None where there is none."""
        maker, name, year = (cells.get(column, "") for column in ("maker", "model", "year_from"))
        if not name:
            return None
        found = [one for one in self.models if fold(one.name) == fold(name) and fold(one.maker) == fold(maker)]
        found = [one for one in found if not year or str(one.year_from) == year]
        if len(found) > 1:
            years = ", ".join(str(one.year_from) for one in found)
            raise ValidationError({"year_from": f"There are models from {years}. Say which."})
        return found[0] if found else None

    def bike_of(self, cells: Cells) -> Bike | None:
        """Raises ValidationError where a bike is named that is not there."""
        if not any(cells.get(name) for name in _BIKE):
            return None
        owner = self.people.owner(cells)
        bike = self.by_number.get(cells.get("bike_number", "")) or self.of(
            owner, frame_number=cells.get("bike_frame_number", ""), description=cells.get("bike", "")
        )
        if bike is None or bike.customer_id != owner.pk:
            named = next(name for name in _BIKE if cells.get(name))
            raise ValidationError({named: f"{owner} has no bike “{cells[named]}”. Bring the bikes in first."})
        return bike


def note_fitting(unit: SuspensionUnit, on: tuple[Bike, dt.date] | None) -> None:
    unit.sheet_fitting = on  # type: ignore[attr-defined]


def _in_words(cells: Cells) -> str:
    return " ".join(cells[name] for name in ("maker", "model", "year_from") if cells.get(name))


def _with_serials(shop: Shop, serials: set[str], *, few: bool) -> set[int]:
    if not serials:
        return set()
    if few:
        looked_up = [holding(UNIT, shop.pk, WantedWords.of((serial,)), _MOST) for serial in serials]
        return {key for found in candidates(looked_up).values() for key in found}
    noted = SuspensionUnit.objects.filter(shop=shop).exclude(serial="").values_list("pk", "serial").iterator(2000)
    return {pk for pk, serial in noted if without_separators(serial) in serials}


class UnitSheet(RecordSheet[SuspensionUnit]):
    key = "units"
    title = "Forks and shocks"
    thing = "fork or shock"
    shown = ("serial", "customer_name")
    key_column = "serial"
    old_number = OldNumber.Thing.UNIT
    came_with = frozenset({"Fitting"})
    not_put_back = frozenset({"bike", "fitted_on"})  # which bike it is on since is a record of its own
    columns = (
        Column("number", "Its number where the file is from", ("unit number", "id"), sample="301"),
        *OWNER_COLUMNS,
        Column("bike_number", "The bike it is fitted on, by its number", ("bike id",), points_at="bikes.csv, number",
               sample="201"),
        Column("bike_frame_number", "or by its frame number", ("frame number", "rahmennummer"),
               points_at="bikes.csv, frame_number"),
        Column("bike", "or by its description", points_at="bikes.csv, description"),
        Column("fitted_on", "Since when; empty is the day of the import", ("fitted since",), unit="day, as 2026-03-31"),
        Column("kind", "What it is; a model that is kept here says it itself", ("type", "art"), unit="fork or shock",
               sample="fork"),
        Column("maker", "The maker", ("brand", "make", "hersteller", "marke"),
               points_at="models.csv, maker"),
        Column("model", "The model; one that is not kept here is noted in words", ("model name", "modell"),
               points_at="models.csv, model"),
        Column("year_from", "The first year of that model", ("year", "model year", "jahr"),
               points_at="models.csv, year_from"),
        Column("described_as", "or maker and model in words", ("description", "unit", "fork", "bezeichnung"),
               sample="Sample air fork"),
        Column("serial", "The serial number", ("serial number", "sn", "seriennummer"), sample="SN-0001"),
        Column("travel_mm", "How far it moves", ("travel", "stroke", "federweg"), decimals=1, unit="mm", sample="140"),
        *(Column(name, field.label, unit=", ".join(field.choices)) for name, field in _FACTS.items()),
        Column("notes", "Anything else", ("remarks", "comment", "notizen")),
    )  # fmt: skip

    def key_of(self, cells: Cells) -> str:
        if number := cells.get("number"):
            return f"number {number.casefold()}"
        return without_separators(cells.get("serial", ""))

    def there(self, shop: Shop, rows: Sequence[Cells]) -> UnitsThere:
        return UnitsThere(shop, rows)

    def get(self, shop: Shop, pk: int) -> SuspensionUnit | None:
        unit = SuspensionUnit.objects.filter(shop=shop, pk=pk).select_related("model", "customer").first()
        if unit is not None:
            fitting = unit.fittings.filter(until__isnull=True).select_related("bike").first()
            note_fitting(unit, None if fitting is None else (fitting.bike, fitting.since))
        return unit

    def texts(self, record: SuspensionUnit) -> dict[str, str]:
        model, on = record.model, record.sheet_fitting  # type: ignore[attr-defined]
        return {
            "kind": record.kind,
            "maker": model.maker if model else "",
            "model": model.name if model else "",
            "year_from": str(model.year_from) if model else "",
            **{name: str(getattr(record, name)).replace("\r\n", "\n").strip() for name in _WORDS},
            "travel_mm": "" if record.travel_m is None else f"{record.travel_m * 1000:.6g}",
            **{name: str(getattr(record, name)) for name in OWN_FACTS},
            "bike": str(on[0]) if on else "",
            "fitted_on": on[1].isoformat() if on else "",
        }

    def entries(self, shop: Shop, cells: Cells, there: Any, record: SuspensionUnit | None) -> Entries:
        entries = said(cells, _WORDS) | _what_it_is(cells, there, record)
        if (travel := number_in(cells, "travel_mm", decimals=1, low=10, high=300)) is not None:
            entries["travel_m"] = float(travel) / 1000
        for name, field in _FACTS.items():
            if fact := choice_in(cells, name, list(field.choices.items())):
                entries[name] = fact
        if record is None:
            entries["customer"] = there.people.owner(cells)
        since, bike = _fitted_on(cells), there.bike_of(cells)
        now = getattr(record, "sheet_fitting", None)
        if bike is not None and (now is None or now[0].pk != bike.pk):
            entries["fitting"] = (bike, since or timezone.localdate())
        return entries

    def build(self, shop: Shop, record: SuspensionUnit | None, entries: Entries) -> SuspensionUnit:
        built = record or SuspensionUnit(shop=shop, customer=entries["customer"])
        write_entries(built, _own(entries))  # type: ignore[arg-type]
        if record is None:
            note_fitting(built, None)
        if entries.get("fitting"):
            note_fitting(built, entries["fitting"])
        if built.model is None and not built.described_as:
            raise ValidationError({"described_as": "Name a model, or say in words what it is."})
        check(built, exclude=["shop", "customer", "model", "search_text"])
        return built

    def save(self, shop: Shop, record: SuspensionUnit | None, entries: Entries, by: User | None) -> SuspensionUnit:
        if record is None:
            saved = add_unit(customer=entries["customer"], **_own(entries))
            note_fitting(saved, None)
        else:
            saved = record
            if own := _own(entries):
                saved = edit_unit(unit=record, seen_version=record.version, **own)
        if "fitting" in entries:
            if entries["fitting"] is None:
                end_fitting(unit=saved, until=timezone.localdate())
            else:
                bike, since = entries["fitting"]
                fit(unit=saved, bike=bike, since=since, by=by)
            note_fitting(saved, entries["fitting"])
        return saved

    def emptied(self, names: Sequence[str]) -> Entries:
        entries: Entries = {name: "" for name in names if name in (*_WORDS, *OWN_FACTS)}
        if "travel_mm" in names:
            entries["travel_m"] = None
        if "model" in names:
            entries["model"] = None
        if "bike" in names:
            entries["fitting"] = None
        return entries


def _own(entries: Entries) -> Entries:
    return {name: value for name, value in entries.items() if name not in ("customer", "fitting")}


def _what_it_is(cells: Cells, there: UnitsThere, record: SuspensionUnit | None) -> Entries:
    """Its model, or in words the one that is not kept here; and its kind."""
    entries: Entries = {}
    model = there.model(cells)
    if model is not None:
        entries["model"] = model
    elif cells.get("model") and not cells.get("described_as") and (record is None or record.model is None):
        entries["described_as"] = _in_words(cells)
    kind = choice_in(cells, "kind", [("fork", "fork"), ("shock", "rear shock")])
    if kind and model is not None and model.kind != kind:
        raise ValidationError({"kind": f"{model} is a {model.get_kind_display()}."})
    if kind:
        entries["kind"] = kind
    elif record is None and model is None:
        raise ValidationError({"kind": "Say whether it is a fork or a shock."})
    return entries


def _fitted_on(cells: Cells) -> dt.date | None:
    since = day_in(cells, "fitted_on")
    if since is not None:
        try:
            refuse_day("fitted_on", since, DayKind.HAPPENED)
        except ValidationError as refused:
            raise ValidationError({"fitted_on": refused.messages}) from None
    return since
