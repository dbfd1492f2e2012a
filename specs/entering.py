"""Writing spec values: enter, change, copy, withdraw, check, take back. Versions are added, never edited.

Each function is one transaction. A change moves `is_current` with one conditional UPDATE, so of two people
at one value exactly one wins and the other gets `ValueChangedMeanwhile`, on SQLite and PostgreSQL alike.
"""

from __future__ import annotations

from dataclasses import dataclass

from django.contrib.auth.models import AbstractBaseUser
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.db.models import Max, Q
from django.utils import timezone

from specs.expected import ruled_out
from specs.models import SpecValue, SuspensionModel
from specs.models.values import ALL_TRAVELS
from specs.quantities import QUANTITIES
from specs.typed_values import TypedValue, ValueRefused, read_typed, same_value


class ValueChangedMeanwhile(Exception):
    """Someone else wrote a newer version. `current` is that version; None only if the model is gone."""

    def __init__(self, current: SpecValue | None) -> None:
        super().__init__("This value was changed meanwhile.")
        self.current = current


class CheckRefused(Exception):
    """The check cannot count; the message says why in plain words."""


class TakingBackRefused(Exception):
    """What somebody did with a version since: “checked” or “changed”."""


@dataclass(frozen=True)
class ValueSource:
    """Where a value is from: a document, and which revision and page of it."""

    document: str
    revision: str = ""
    page: str = ""


def enter_value(
    *,
    model: SuspensionModel,
    quantity: str,
    typed: str,
    source: ValueSource,
    entered_by: AbstractBaseUser,
    unit: str = "",
    tolerance: str = "",
    travel_mm: int = ALL_TRAVELS,
    is_demo: bool = False,
) -> SpecValue:
    """Enter a value where there is none (or where the last one was withdrawn). It waits for a check.

    Raises:
        ValidationError: a dict of field to reason (`quantity`, `typed`, `tolerance`, `travel_mm`, `source_document`).
        ValueChangedMeanwhile: there is a current value already; change that one instead.
    """
    value = _read(quantity=quantity, typed=typed, unit=unit, tolerance=tolerance, travel_mm=travel_mm)
    check_travel(model, travel_mm)
    check_has_it(model, quantity)
    with transaction.atomic():
        last = _current(model, quantity, travel_mm)
        if last is not None and not last.withdrawn:
            raise ValueChangedMeanwhile(last)
        return _add_version(
            last, _version(model, quantity, travel_mm, value, source=source, entered_by=entered_by, is_demo=is_demo)
        )


def change_value(
    *,
    seen: SpecValue,
    typed: str,
    source: ValueSource,
    entered_by: AbstractBaseUser,
    unit: str = "",
    tolerance: str = "",
) -> SpecValue:
    """Write the next version of the value that was on the screen. It waits for a new check.

    Raises:
        ValidationError: as `enter_value`; also when an unchecked value would stay just as it is.
        ValueChangedMeanwhile: `seen` is not the current version any more.
    """
    value = _read(quantity=seen.quantity, typed=typed, unit=unit, tolerance=tolerance, travel_mm=seen.travel_mm)
    version = _version(
        seen.model, seen.quantity, seen.travel_mm, value,
        source=source, entered_by=entered_by, is_demo=seen.is_demo and seen.source_document == source.document.strip(),
    )  # fmt: skip
    if not seen.is_checked and says_the_same(seen, version):
        raise ValidationError({"typed": "Nothing differs from the value that is stored."})
    with transaction.atomic():
        return _add_version(seen, version)


def copy_value(*, theirs: SpecValue, model: SuspensionModel, entered_by: AbstractBaseUser) -> SpecValue:
    """Copy a value of a sister model, with its source, where there is none. It says so, and waits for a check.

    Raises:
        ValidationError: `typed`: another kind of unit, or the sister's value is not the current one any more.
        ValueChangedMeanwhile: there is a current value already.
    """
    check_travel(model, theirs.travel_mm)
    check_has_it(model, theirs.quantity)
    sister = theirs.model
    if sister.pk == model.pk or sister.kind != model.kind:
        raise ValidationError({"typed": f"Only values of another {model.get_kind_display().lower()} can be copied."})
    if not SpecValue.objects.filter(pk=theirs.pk, is_current=True, withdrawn=False).exists():
        raise ValidationError(
            {"typed": f"This changed at the {sister} after it was copied. Empty it, or type the value with its source."}
        )
    source = ValueSource(theirs.source_document, theirs.source_revision, theirs.source_page)
    value = TypedValue(theirs.typed, theirs.magnitude_si, theirs.text, theirs.tolerance_si)
    version = _version(
        model, theirs.quantity, theirs.travel_mm, value,
        source=source, entered_by=entered_by, is_demo=theirs.is_demo,
    )  # fmt: skip
    version.copied_from = sister
    with transaction.atomic():
        last = _current(model, theirs.quantity, theirs.travel_mm)
        if last is not None and not last.withdrawn:
            raise ValueChangedMeanwhile(last)
        return _add_version(last, version)


def withdraw_value(*, seen: SpecValue, why: str, entered_by: AbstractBaseUser) -> SpecValue:
    """Say that the value is not known after all. It is then shown as missing, and its versions stay to be read."""
    if seen.withdrawn:
        raise ValidationError({"why": "This value is withdrawn already."})
    if not why.strip():
        raise ValidationError({"why": "Say why, so that nobody enters it again from the same place."})
    version = _version(
        seen.model, seen.quantity, seen.travel_mm, TypedValue(typed=""),
        source=ValueSource(why), entered_by=entered_by, is_demo=False,
    )  # fmt: skip
    version.withdrawn = True
    with transaction.atomic():
        return _add_version(seen, version)


def check_value(*, value: SpecValue, checked_by: AbstractBaseUser) -> SpecValue:
    """Record that a second person compared the value with its source.

    Raises:
        CheckRefused: the person entered it, it is checked or withdrawn, or it was changed meanwhile.
    """
    with transaction.atomic():
        counted = (
            SpecValue.objects.filter(pk=value.pk, is_current=True, withdrawn=False, checked_at=None)
            .exclude(entered_by=checked_by.pk)
            .update(checked_by=checked_by.pk, checked_at=timezone.now())
        )
        value.refresh_from_db()
        if not counted:
            raise CheckRefused(why_no_check(value, checked_by))
    return value


def keep_version(*, version: SpecValue, seen: SpecValue | None, entered_by: AbstractBaseUser) -> SpecValue:
    """Keep a version that was read from a file as the next after the one that was `seen` there. It waits for a check.

    Raises:
        ValidationError: a field does not fit.
        ValueChangedMeanwhile: what is current there is not what was seen.
    """
    version.entered_by_id = entered_by.pk
    with transaction.atomic():
        if seen is None and (current := _current(version.model, version.quantity, version.travel_mm)) is not None:
            raise ValueChangedMeanwhile(current)
        return _add_version(seen, version)


def take_value_back(*, version: SpecValue, before: SpecValue | None, by: AbstractBaseUser | None) -> None:
    """Make the version `before` current again, with its check; None where there was no value. `version` stays to read.

    Raises:
        TakingBackRefused: somebody changed or checked it meanwhile.
    """
    with transaction.atomic():
        untouched = SpecValue.objects.filter(pk=version.pk, is_current=True, checked_at=None)
        if not untouched.update(
            is_current=False, taken_back_at=timezone.now(), taken_back_by=None if by is None else by.pk
        ):
            version.refresh_from_db()
            raise TakingBackRefused("checked" if version.is_current else "changed")
        if before is not None:
            SpecValue.objects.filter(pk=before.pk).update(is_current=True)


def why_no_check(value: SpecValue, person: AbstractBaseUser) -> str:
    """Why this person's check of this version cannot count; empty when it can."""
    if not value.is_current:
        return "It was changed meanwhile; compare the new version with its source."
    if value.withdrawn:
        return "It is withdrawn; there is nothing to compare."
    if value.is_checked:
        return "It is checked already."
    if value.entered_by_id == person.pk:
        return "You entered it yourself. A second person compares it with the source."
    return ""


def check_travel(model: SuspensionModel, travel_mm: int) -> None:
    """Refuse a travel the model is not made in (ValidationError on `travel_mm`); 0 is for every travel."""
    if travel_mm == ALL_TRAVELS or travel_mm in model.travels_mm:
        return
    made_in = ", ".join(str(travel) for travel in model.travels_mm)
    known = f"It is made in {made_in} mm." if made_in else "Its travels are not entered yet."
    raise ValidationError({"travel_mm": f"The {model} has no {travel_mm} mm. {known}"})


def check_has_it(model: SuspensionModel, quantity: str) -> None:
    """Refuse a value that cannot be true beside the model's facts (ValidationError on `typed`)."""
    fact, words = ruled_out(model.facts(), quantity)
    if fact:
        named = QUANTITIES[quantity].label
        raise ValidationError(
            {"typed": f"The {model} is noted as “{words}”, which has no “{named}”. One of the two is wrong."}
        )


def says_the_same(stored: SpecValue, version: SpecValue) -> bool:
    """Whether two versions give the same value from the same place."""
    value = TypedValue(version.typed, version.magnitude_si, version.text, version.tolerance_si)
    return (
        not stored.withdrawn
        and same_value(value, magnitude_si=stored.magnitude_si, text=stored.text, tolerance_si=stored.tolerance_si)
        and (stored.source_document, stored.source_revision, stored.source_page)
        == (version.source_document, version.source_revision, version.source_page)
    )


def _read(*, quantity: str, typed: str, unit: str, tolerance: str, travel_mm: int) -> TypedValue:
    try:
        return read_typed(quantity=quantity, typed=typed, unit=unit, tolerance=tolerance, travel_mm=travel_mm)
    except ValueRefused as refused:
        raise ValidationError({refused.field: refused.reason}) from refused


def _version(
    model: SuspensionModel,
    quantity: str,
    travel_mm: int,
    value: TypedValue,
    *,
    source: ValueSource,
    entered_by: AbstractBaseUser,
    is_demo: bool,
) -> SpecValue:
    if not source.document.strip():
        raise ValidationError({"source_document": "Name the document, sticker or letter the value is from."})
    return SpecValue(
        model=model,
        quantity=quantity,
        travel_mm=travel_mm,
        typed=value.typed,
        magnitude_si=value.magnitude_si,
        text=value.text,
        tolerance_si=value.tolerance_si,
        source_document=source.document.strip(),
        source_revision=source.revision.strip(),
        source_page=source.page.strip(),
        entered_by_id=entered_by.pk,
        is_demo=is_demo,
    )


def _current(model: SuspensionModel, quantity: str, travel_mm: int) -> SpecValue | None:
    return SpecValue.objects.filter(model=model, quantity=quantity, travel_mm=travel_mm, is_current=True).first()


def _add_version(last: SpecValue | None, version: SpecValue) -> SpecValue:
    """Save `version` as the one after `last`, or raise ValueChangedMeanwhile; inside a transaction."""
    place = Q(model=version.model_id, quantity=version.quantity, travel_mm=version.travel_mm)
    if last is not None and not SpecValue.objects.filter(pk=last.pk, is_current=True).update(is_current=False):
        raise ValueChangedMeanwhile(_current(version.model, version.quantity, version.travel_mm))
    highest = SpecValue.objects.filter(place).aggregate(highest=Max("number"))["highest"]
    version.number = (highest or 0) + 1
    version.full_clean(validate_constraints=False)
    try:
        with transaction.atomic():
            version.save(force_insert=True)
    except IntegrityError as error:
        current = _current(version.model, version.quantity, version.travel_mm)
        if current is None:
            raise
        raise ValueChangedMeanwhile(current) from error
    return version
