"""What every sum's form does: group its fields, work the sum out, and put an impossible value beside its field."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, ClassVar

from django import forms
from django.forms import BoundField
from django.http import QueryDict

from specs.physics.errors import ImpossibleValue
from workshop.staff.models import Shop
from workshop.sums.answer import Answer, Missing
from workshop.sums.fields import written_in_field


@dataclass(frozen=True)
class FieldGroup:
    """Fields under one heading. A folded group is opened where something in it was typed or is wrong."""

    legend: str
    fields: tuple[BoundField, ...]
    folded: bool
    hint: str = ""


@dataclass(frozen=True)
class GroupPlan:
    """Which fields go under which heading."""

    legend: str
    names: tuple[str, ...]
    may_fold: bool = False
    hint: str = ""


class SumForm(forms.Form):
    """Asks for a sum. Subclasses name their groups and implement `work_out`."""

    groups: ClassVar[tuple[GroupPlan, ...]] = ()
    # Argument named by ImpossibleValue -> field of the form, where the two differ.
    field_of: ClassVar[Mapping[str, str]] = {}

    def __init__(self, sent: QueryDict | None, *, shop: Shop, filling_in: bool = False) -> None:
        """With `filling_in` what is still missing goes to `still_needed` and is not held against its field."""
        self.shop, self.filling_in = shop, filling_in
        self.still_needed: list[str] = []
        super().__init__(sent)

    @classmethod
    def was_sent(cls, query: QueryDict) -> bool:
        """Whether an address carries any of this form's fields; a bare address shows the empty form."""
        return any(name in query for plan in cls.groups for name in plan.names)

    def work_out(self) -> Answer:
        """The answer from `cleaned_data`. Raises ImpossibleValue naming an argument, or ValidationError."""
        raise NotImplementedError

    def answer(self) -> Answer | None:
        """The answer, or None where the form is empty or refused; the reason is then beside its field."""
        if not self.is_valid():
            self._excuse_missing()
            return None
        try:
            return self.work_out()
        except Missing as missing:
            self._miss(missing)
        except ImpossibleValue as error:
            self.refuse(error.field, error.reason)
        except forms.ValidationError as error:
            self.add_error(None, error)
        return None

    def _excuse_missing(self) -> None:
        for name, errors in list(self.errors.as_data().items()) if self.filling_in else ():
            if all(error.code == "required" for error in errors):
                self.still_needed.append(f"{self.fields[name].label}.")
                del self.errors[name]

    def _miss(self, missing: Missing) -> None:
        if not self.filling_in:
            self.refuse(missing.field, missing.reason)
            return
        name = self.field_of.get(missing.field, missing.field)
        self.still_needed.append(f"{self.fields[name].label}: {missing.reason}.")

    def refuse(self, argument: str, reason: str) -> None:
        """Put a reason beside the field an argument came from, as a sentence."""
        name = self.field_of.get(argument, argument)
        sentence = f"{reason[:1].upper()}{reason[1:]}"
        self.add_error(name if name in self.fields else None, sentence if sentence[-1:] in ".?" else f"{sentence}.")

    def write(self, magnitude_si: float, dimension: str) -> str:
        """An SI magnitude as this shop reads it."""
        return written_in_field(self.shop, magnitude_si, dimension)

    def shown_groups(self) -> Iterator[FieldGroup]:
        """The groups with their bound fields, for the template."""
        for plan in self.groups:
            fields = tuple(self[name] for name in plan.names)
            is_used = any(field.errors or (self.is_bound and field.value()) for field in fields)
            yield FieldGroup(plan.legend, fields, plan.may_fold and not is_used, plan.hint)

    def given(self, name: str) -> Any:
        """A cleaned value, None where nothing was entered."""
        value = self.cleaned_data.get(name)
        return None if value in (None, "") else value
