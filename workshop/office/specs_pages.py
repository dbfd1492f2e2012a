"""What the pages of the specs show, fetched in a number of queries that does not grow with the rows."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from django.core.paginator import Page, Paginator
from django.db.models import Count, Q, QuerySet

from specs.contradictions import COILS
from specs.entering import why_no_check
from specs.expected import expected_keys
from specs.facts import MODEL_FACTS, facts_of_kind
from specs.lookup import GeometryGap, SpecWritten, for_travel, spring_geometry, written
from specs.models import ServiceKit, SpecValue, SuspensionModel
from specs.models.values import ALL_TRAVELS
from specs.quantities import GROUP_LABELS, QUANTITIES, Quantity, grouped
from workshop.manuals.keeping import page_of_value
from workshop.manuals.models import ManualPage
from workshop.staff.models import Shop, User
from workshop.suspension.model_names import keys_of_models
from workshop.web.folding import fold

A_PAGE = 50
UnitFor = Callable[[str], str]


@dataclass(frozen=True)
class ModelLine:
    """A model in the list, and how much is known of it."""

    model: SuspensionModel
    values: int
    unchecked: int


@dataclass(frozen=True)
class SpecEntry:
    """One value of a quantity: for every travel, or for one; `value` is None where it is missing."""

    quantity: Quantity
    travel_mm: int
    value: SpecValue | None
    written: SpecWritten

    @property
    def missing(self) -> bool:
        return self.value is None or self.value.withdrawn

    @property
    def for_words(self) -> str:
        return "every travel" if self.travel_mm == ALL_TRAVELS else f"{self.travel_mm} mm"


@dataclass(frozen=True)
class QuantityRow:
    """A quantity with its values."""

    quantity: Quantity
    entries: Sequence[SpecEntry]


@dataclass(frozen=True)
class QuantityGroup:
    """A heading of the model page and the quantities under it."""

    label: str
    rows: Sequence[QuantityRow]


@dataclass(frozen=True)
class SpringLine:
    """Whether the air spring of one travel can be calculated; `gap` says why not."""

    travel_mm: int
    gap: GeometryGap | None


@dataclass(frozen=True)
class ToCheck:
    """A value that waits for a second person, and why this person's check cannot count, if so."""

    value: SpecValue
    written: SpecWritten
    why_not: str
    page: ManualPage | None = None


def models_named(words: str) -> QuerySet[SuspensionModel]:
    """Models whose maker or name has every word in it; a word of four digits is a year they were made."""
    if not fold(words):
        return SuspensionModel.objects.all()
    return SuspensionModel.objects.filter(pk__in=keys_of_models(words, or_else=_made_in))


def _made_in(model: SuspensionModel, word: str) -> bool:
    if not (word.isascii() and word.isdigit() and len(word) == 4):
        return False
    return model.year_from is not None and model.year_from <= int(word) <= (model.year_to or int(word))


def page_of_models(words: str, number: str | None) -> tuple[Page[SuspensionModel], list[ModelLine]]:
    """A page of models, and its lines with their counts."""
    page = Paginator(models_named(words), A_PAGE).get_page(number)
    counted = (
        SpecValue.objects.filter(model__in=[model.pk for model in page], is_current=True, withdrawn=False)
        .order_by()
        .values("model")
        .annotate(values=Count("pk"), unchecked=Count("pk", filter=Q(checked_at=None)))
    )
    counts = {row["model"]: (row["values"], row["unchecked"]) for row in counted}
    return page, [ModelLine(model, *counts.get(model.pk, (0, 0))) for model in page]


def known_facts(model: SuspensionModel) -> list[tuple[str, str]]:
    """Label and words of each fact; an unknown one says so. A shock has no crowns and lower legs to know things of."""
    facts = model.facts()
    keys = facts_of_kind(model.kind)
    return [
        (MODEL_FACTS[key].label, "not known" if (known := facts[key]) is None else MODEL_FACTS[key].values[known])
        for key in keys
    ]


def current_versions(model: SuspensionModel) -> list[SpecValue]:
    """Every current version of a model, withdrawn ones too, in one query."""
    current = SpecValue.objects.filter(model=model, is_current=True).select_related("copied_from", "entered_by")
    return list(current.order_by("travel_mm"))


def groups_of(model: SuspensionModel, current: Sequence[SpecValue], shop: Shop) -> list[QuantityGroup]:
    """Quantities that the model can have, or has, by group, with a blank for each that is missing."""
    keys = {*expected_keys(model), *(value.quantity for value in current if not value.withdrawn)}
    return [
        QuantityGroup(GROUP_LABELS[group], [_row(model, key, current, shop.unit_for) for key in members])
        for group, members in grouped(list(keys)).items()
    ]


def springs_of(model: SuspensionModel, current: Sequence[SpecValue]) -> list[SpringLine]:
    """For an air fork: whether its spring can be calculated at each travel it is made in."""
    if model.kind != "fork" or model.spring_kind in COILS:
        return []
    lines = []
    for travel_mm in model.travels_mm:
        spring = spring_geometry(model, travel_mm / 1000, values=for_travel(current, travel_mm))
        lines.append(SpringLine(travel_mm, spring if isinstance(spring, GeometryGap) else None))
    return lines


def kits_of_page(model: SuspensionModel) -> list[ServiceKit]:
    """What each service takes, the smallest first; two queries and one for the parts."""
    kits = ServiceKit.objects.filter(model=model).prefetch_related("lines__part")
    return sorted(kits, key=lambda kit: ServiceKit.Level.values.index(kit.level))


def page_to_check(
    *, model_pk: int | None, number: str | None, person: User, shop: Shop, manual: Iterable[ManualPage] = ()
) -> tuple[Page[SpecValue], list[ToCheck]]:
    """A page of current values that nobody checked yet, of one model or of all; `manual` is its attached pages."""
    waiting = SpecValue.objects.filter(is_current=True, withdrawn=False, checked_at=None)
    if model_pk is not None:
        waiting = waiting.filter(model=model_pk)
    waiting = waiting.select_related("model", "entered_by", "copied_from")
    page = Paginator(waiting.order_by("model__maker", "model__name", "model_id", "pk"), A_PAGE).get_page(number)
    return page, [to_check(value, person, shop, page_of_value(value, manual)) for value in page]


def to_check(value: SpecValue, person: User, shop: Shop, page: ManualPage | None = None) -> ToCheck:
    """One value of the checking screen, with the attached page that it is from."""
    shown = written(QUANTITIES[value.quantity], value, shop.unit_for)
    return ToCheck(value, shown, why_no_check(value, person), page)


def _row(model: SuspensionModel, key: str, current: Sequence[SpecValue], unit_for: UnitFor) -> QuantityRow:
    """The general value first, then those of single travels. Without a general one, each travel has a line."""
    quantity = QUANTITIES[key]
    stored = {value.travel_mm: value for value in current if value.quantity == key}
    general = stored.get(ALL_TRAVELS)
    if general is not None and not general.withdrawn:
        travels = sorted(stored)
    elif own := {travel_mm for travel_mm, value in stored.items() if not value.withdrawn}:
        travels = sorted(own | set(model.travels_mm))
    else:
        travels = [ALL_TRAVELS]
    entries = [SpecEntry(quantity, t, stored.get(t), written(quantity, stored.get(t), unit_for)) for t in travels]
    return QuantityRow(quantity, entries)
