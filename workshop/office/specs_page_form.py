"""The form of a model's values on one page: a source for the run of values, and a row for each quantity."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from django import forms
from django.forms import BoundField
from django.http import QueryDict

from specs.entering import ValueSource
from specs.expected import expected_keys
from specs.lookup import SpecWritten, shown_unit, written
from specs.models import SpecValue, SuspensionModel
from specs.models.values import ALL_TRAVELS
from specs.one_page import PageRefused, TypedRow, text_in_field
from specs.quantities import GROUP_LABELS, QUANTITIES, Group, Quantity, grouped
from specs.typed_values import LONGEST_TEXT
from workshop.staff.models import Shop
from workshop.web.converters import key_from

_HIDDEN = forms.HiddenInput
_SOURCE = {"document": (160, "source"), "revision": (40, "revision"), "page": (40, "page")}


@dataclass(frozen=True)
class RowOnPage:
    """A quantity's row: its field, what is stored, and what it would copy or was written meanwhile."""

    quantity: Quantity
    field: BoundField
    hidden: list[BoundField]
    own: list[BoundField]
    why: BoundField | None
    unit: str
    stored: SpecValue | None
    written: SpecWritten
    copied: SpecValue | None
    every_travel: SpecWritten | None
    meanwhile: SpecValue | None


@dataclass(frozen=True)
class GroupOnPage:
    """A group of rows, with the page of the source that its values stand on."""

    key: Group
    label: str
    page: BoundField
    rows: list[RowOnPage]

    @property
    def has_own(self) -> bool:
        """Whether a row says a source of its own, so that the fold stands open."""
        return any(field.value() or field.errors for row in self.rows for field in row.own)


class PageForm(forms.Form):
    """Every row as typed. Which version each row was typed over stands in the page, so nothing is overwritten."""

    source_document = forms.CharField(
        label="Source", max_length=160, required=False, help_text="Of every value typed below that has no other."
    )
    source_revision = forms.CharField(label="Revision", max_length=40, required=False)
    source_page = forms.CharField(label="Page", max_length=40, required=False)
    travel_mm = forms.CharField(widget=_HIDDEN, required=False)

    def __init__(
        self, data: QueryDict | None, *, model: SuspensionModel, travel_mm: int, shop: Shop,
        current: Iterable[SpecValue], source: ValueSource,
    ) -> None:  # fmt: skip
        super().__init__(data, initial={"source_document": source.document, "source_revision": source.revision})
        self.model, self.shop, self.travel = model, shop, travel_mm
        current = list(current)
        self.stored = {v.quantity: v for v in current if v.travel_mm == travel_mm and not v.withdrawn}
        self.general = {v.quantity: v for v in current if v.travel_mm == ALL_TRAVELS and not v.withdrawn}
        self.seen = _versions(data, "seen", SpecValue.objects.filter(model=model, travel_mm=travel_mm, withdrawn=False))
        sisters = SpecValue.objects.filter(model__kind=model.kind, travel_mm=travel_mm).exclude(model=model)
        self.copies = _versions(data, "copy", sisters)
        self.meanwhile: dict[str, SpecValue | None] = {}
        self.initial["travel_mm"] = travel_mm
        typed = {key for key in QUANTITIES if data is not None and data.get(f"value_{key}")}
        self.keys = [key for key in QUANTITIES if key in {*expected_keys(model), *self.stored, *typed}]
        for group in grouped(self.keys):
            self.fields[f"page_of_{group}"] = forms.CharField(
                label=f"{GROUP_LABELS[group]}: page, where it is another", max_length=40, required=False
            )
        for key in self.keys:
            self._add_row(key)
        for field in self.fields.values():
            field.widget.attrs["autocomplete"] = "off"

    def _add_row(self, key: str) -> None:
        quantity, stored = QUANTITIES[key], self.stored.get(key)
        attrs = {"data-down": "", "enterkeyhint": "next"}
        if quantity.dimension is not None:
            attrs["inputmode"] = "decimal"
        self.fields[f"value_{key}"] = forms.CharField(
            label=quantity.label, max_length=2 * LONGEST_TEXT, required=False, widget=forms.TextInput(attrs=attrs),
            initial=text_in_field(stored) if stored else "",
        )  # fmt: skip
        self.fields[f"seen_{key}"] = forms.CharField(
            widget=_HIDDEN, required=False, initial=stored.pk if stored else ""
        )
        self.fields[f"copy_{key}"] = forms.CharField(widget=_HIDDEN, required=False)
        for part, (longest, words) in _SOURCE.items():
            self.fields[f"{part}_{key}"] = forms.CharField(
                label=f"{quantity.label}: {words}", max_length=longest, required=False
            )
        self.fields[f"why_{key}"] = forms.CharField(
            label=f"{quantity.label}: why is it not known after all?", max_length=160, required=False
        )

    def typed_rows(self) -> Iterator[TypedRow]:
        """What save_page takes, once the form is valid."""
        for key in self.keys:
            own = {part: self.cleaned_data[f"{part}_{key}"] for part in _SOURCE}
            seen, typed = self.seen.get(key), self.cleaned_data[f"value_{key}"]
            yield TypedRow(
                quantity=key, typed=typed, source=self._source(key, own, seen), own_source=any(own.values()), seen=seen,
                copy_of=self.copies.get(key), unit=shown_unit(QUANTITIES[key], self.shop.unit_for),
                why=self.cleaned_data[f"why_{key}"],
            )  # fmt: skip

    def _source(self, key: str, own: Mapping[str, str], seen: SpecValue | None) -> ValueSource:
        """The row's own, what it leaves out filled up from the source of the run, or of a value that stays."""
        cleaned = self.cleaned_data
        if own["document"]:
            return ValueSource(own["document"], own["revision"], own["page"])
        run = ValueSource(
            cleaned["source_document"], cleaned["source_revision"],
            cleaned[f"page_of_{QUANTITIES[key].group}"] or cleaned["source_page"],
        )  # fmt: skip
        if seen is not None:
            stored = ValueSource(seen.source_document, seen.source_revision, seen.source_page)
            if cleaned[f"value_{key}"] == text_in_field(seen):
                run = stored
            elif not run.page and (run.document, run.revision) == (stored.document, stored.revision):
                run = stored  # the same quantity of the same revision stands on the same page
        return ValueSource(run.document, own["revision"] or run.revision, own["page"] or run.page)

    def fill_from(self, theirs: Iterable[SpecValue]) -> int:
        """Put a sister's values into the rows that are blank; how many. What is typed or stored stays."""
        data = self._changed_data()
        filled = 0
        for value in theirs:
            name = f"value_{value.quantity}"
            if value.quantity in self.keys and value.quantity not in self.stored and not data.get(name, "").strip():
                data[name], data[f"copy_{value.quantity}"] = text_in_field(value), str(value.pk)
                self.copies[value.quantity] = value
                filled += 1
        return filled

    def take_refusal(self, refused: PageRefused) -> None:
        """Put each reason beside its field, and what others wrote beside its row; the next send replaces that."""
        for key, faults in refused.faults.items():
            for name, reason in faults.items():
                self._put_fault(key, name, reason)
        data = self._changed_data()
        for key, current in refused.meanwhile.items():
            self.meanwhile[key] = current
            data[f"seen_{key}"] = "" if current is None or current.withdrawn else str(current.pk)
            copy = self.copies.pop(key, None)
            if copy is not None and current is not None and data.get(f"value_{key}", "").strip() == text_in_field(copy):
                data[f"value_{key}"] = "" if current.withdrawn else text_in_field(current)
            data[f"copy_{key}"] = ""

    def _put_fault(self, key: str, name: str, reason: str) -> None:
        part = name.removeprefix("source_")
        if part not in _SOURCE:
            self.add_error(f"{'why' if name == 'why' else 'value'}_{key}", reason)
        elif any(self.cleaned_data.get(f"{own}_{key}") for own in _SOURCE):
            self.add_error(f"{part}_{key}", reason)
        elif name not in self.errors:
            self.add_error(name, reason)

    def _changed_data(self) -> dict[str, str]:
        """What was sent, to be changed here; the form shows it from now on."""
        if isinstance(self.data, QueryDict):
            self.data = self.data.dict()
        return self.data  # type: ignore[return-value]

    @property
    def groups(self) -> list[GroupOnPage]:
        return [
            GroupOnPage(group, GROUP_LABELS[group], self[f"page_of_{group}"], [self._row(key) for key in keys])
            for group, keys in grouped(self.keys).items()
        ]

    def _row(self, key: str) -> RowOnPage:
        quantity, unit_for = QUANTITIES[key], self.shop.unit_for
        stored, general = self.stored.get(key), self.general.get(key)
        asked = bool(self[f"value_{key}"].errors and self.seen.get(key) and not self[f"value_{key}"].value())
        why = self[f"why_{key}"]
        return RowOnPage(
            quantity=quantity,
            field=self[f"value_{key}"],
            hidden=[self[f"seen_{key}"], self[f"copy_{key}"]],
            own=[self[f"{part}_{key}"] for part in _SOURCE],
            why=why if asked or why.value() or why.errors else None,
            unit=shown_unit(quantity, unit_for),
            stored=stored,
            written=written(quantity, stored, unit_for),
            copied=self.copies.get(key) if key not in self.stored else None,
            every_travel=written(quantity, general, unit_for) if general and self.travel != ALL_TRAVELS else None,
            meanwhile=self.meanwhile.get(key),
        )


def _versions(data: QueryDict | None, name: str, among: Any) -> dict[str, SpecValue]:
    """The versions that the page names in its rows, by quantity; one query, none before anything is sent."""
    named = {key: key_from(data.get(f"{name}_{key}")) for key in QUANTITIES} if data is not None else {}
    keys = [pk for pk in named.values() if pk is not None]
    if not keys:
        return {}
    found = {value.pk: value for value in among.filter(pk__in=keys).select_related("model")}
    return {key: found[pk] for key, pk in named.items() if pk is not None and pk in found and found[pk].quantity == key}
