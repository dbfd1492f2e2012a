"""Every label, event word, quantity word, fact word and state name made nonsense, and made itself again in a text.

Code that decides by a label, cuts one out of a sentence or keeps two things apart by their words gives another result.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from contextlib import ExitStack, contextmanager
from typing import Any, cast
from unittest.mock import patch

from django import forms
from django.apps import apps
from django.db import models

from diagnosis import next_step, unit_parts
from diagnosis.unit_parts import PARTS
from specs.facts import FACTS
from specs.quantities import GROUP_LABELS, QUANTITIES
from specs.units import DIMENSIONS
from workshop.office.figures import causes
from workshop.tickets import settings_record
from workshop.tickets.settings_record import LABELS
from workshop.torque.models import BOLT_LABELS
from workshop.work import event_words

# Words by key, and words that stand alone.
WORDED: tuple[dict[Any, str], ...] = tuple(
    cast("dict[Any, str]", words) for words in (LABELS, BOLT_LABELS, GROUP_LABELS, unit_parts.OF_ANY_PART)
)
CONSTANTS = ((settings_record, "NOT_READ"), (event_words, "NONE"), (causes, "NO_COMPLAINT"))
OURS = ("specs.", "diagnosis.", "workshop.")
_TOKEN = re.compile(r"qwx(\d{4})q*", re.IGNORECASE)


class Nonsense:
    """One made-up word for each label. They are sorted as the labels are, for lists stand in the order of words."""

    def __init__(self, labels: set[str]) -> None:
        self.labels = sorted(labels, key=lambda label: (label.casefold(), label))
        self.place = {label: place for place, label in enumerate(self.labels)}

    def __call__(self, label: str) -> str:
        """As long as the label, as far as it can be: a drawing breaks its lines by their length."""
        return f"qwx{self.place[str(label)]:04}".ljust(len(label), "q")

    def undone(self, text: str) -> str:
        """The text with the labels in place of their nonsense, in small letters: words begin a line or stand in it."""
        return _TOKEN.sub(lambda found: self.labels[int(found[1])], text).casefold()


@contextmanager
def every_label_reworded() -> Iterator[Nonsense]:
    """Inside, everything is called by nonsense; the labels of classes, fields and forms come back afterwards."""
    nonsense = Nonsense(_every_label())
    fields = {
        key: event_words.ChangedField(_otherwise(field.label, nonsense), field.shown, field.personal)
        for key, field in event_words.FIELDS.items()
    }
    with ExitStack() as stack:
        for one in _choices():
            stack.enter_context(patch.object(one, "_label_", nonsense(one._label_)))
        for field in [*_model_fields(), *_form_fields()]:
            stack.callback(setattr, field, "choices", field.choices)
            field.choices = _reworded_choices(field.choices, nonsense)
        for field in _form_labels():
            stack.callback(setattr, field, "label", field.label)
            field.label = nonsense(field.label)
        for record, name in _labelled():
            _set_for_now(stack, record, name, _reworded(getattr(record, name), nonsense))
        for words in WORDED:
            stack.enter_context(patch.dict(words, {key: nonsense(label) for key, label in words.items()}))
        for module, name in CONSTANTS:
            stack.enter_context(patch.object(module, name, nonsense(getattr(module, name))))
        shares = tuple((share, nonsense(words)) for share, words in next_step.SHARE_WORDS)
        stack.enter_context(patch.object(next_step, "SHARE_WORDS", shares))
        kinds = {key: _said_otherwise(kind, nonsense) for key, kind in event_words.KINDS.items()}
        stack.enter_context(patch.dict(event_words.KINDS, kinds))
        stack.enter_context(patch.dict(event_words.FIELDS, fields))
        yield nonsense


def _every_label() -> set[str]:
    found = {str(one._label_) for one in _choices()}
    for field in [*_model_fields(), *_form_fields()]:
        found |= {str(label) for _, label in field.choices}
    for record, name in _labelled():
        words = getattr(record, name)
        found |= set(words.values()) if isinstance(words, Mapping) else {words}
    for labels in WORDED:
        found |= set(labels.values())
    found |= {str(field.label) for field in _form_labels()} | {getattr(module, name) for module, name in CONSTANTS}
    found |= {words for _, words in next_step.SHARE_WORDS} | {field.label() for field in event_words.FIELDS.values()}
    return found | {_MARK}


# What stands before each line of the logbook while it is reworded: no word of the line itself is a label.
_MARK = ""


def _said_otherwise(kind: event_words.EventKind, nonsense: Nonsense) -> event_words.EventKind:
    return event_words.EventKind(lambda values, shop: nonsense(_MARK) + kind.words(values, shop), kind.personal)


def _otherwise(label: Callable[[], str], nonsense: Nonsense) -> Callable[[], str]:
    words = nonsense(label())
    return lambda: words


def _choices() -> list[Any]:
    return [one for choices in _below(models.Choices) if choices.__module__.startswith(OURS) for one in choices]


def _model_fields() -> list[Any]:
    """Fields with choices: they keep the words as the class was made."""
    labels = {"specs", "diagnosis", "workshop"}
    return [
        field
        for model in apps.get_models()
        if model._meta.app_label in labels
        for field in model._meta.local_fields
        if field.choices
    ]


def _form_fields() -> list[Any]:
    """Of each form class; one that a form has from another is the same field."""
    found = {
        id(field): field
        for form in _below(forms.BaseForm)
        if form.__module__.startswith(OURS)
        for field in getattr(form, "base_fields", {}).values()
        if type(field) in {forms.ChoiceField, forms.TypedChoiceField, forms.MultipleChoiceField}
        and isinstance(field.choices, list)
    }
    return list(found.values())


def _form_labels() -> list[Any]:
    """Fields that say what they are called; others are called by their name."""
    found = {
        id(field): field
        for form in _below(forms.BaseForm)
        if form.__module__.startswith(OURS)
        for field in getattr(form, "base_fields", {}).values()
        if field.label
    }
    return list(found.values())


def _labelled() -> list[tuple[Any, str]]:
    """Records that carry their own words, and where."""
    return [
        *((quantity, "label") for quantity in QUANTITIES.values()),
        *((dimension, "label") for dimension in DIMENSIONS.values()),
        *((fact, name) for fact in FACTS.values() for name in ("label", "values")),
        *((part, name) for part in PARTS.values() for name in ("label", "values", "unknown")),
    ]


def _below(kind: type[Any]) -> Iterator[type[Any]]:
    for one in kind.__subclasses__():
        yield one
        yield from _below(one)


def _reworded(words: Any, nonsense: Nonsense) -> Any:
    return {key: nonsense(said) for key, said in words.items()} if isinstance(words, Mapping) else nonsense(words)


def _reworded_choices(choices: Any, nonsense: Nonsense) -> list[tuple[Any, str]]:
    return [(key, nonsense(label)) for key, label in choices]


def _set_for_now(stack: ExitStack, record: Any, name: str, value: Any) -> None:
    """Also of a frozen dataclass."""
    stack.callback(object.__setattr__, record, name, getattr(record, name))
    object.__setattr__(record, name, value)
