"""What a field says where its form says nothing of its own: what is wrong and what to do, in the shop's voice."""

from __future__ import annotations

from django import forms
from django.core import validators
from django.db import models
from django.utils.translation import gettext_lazy, ngettext_lazy
from django_stubs_ext import StrOrPromise

_OF_FIELDS: dict[type[forms.Field], dict[str, StrOrPromise]] = {
    forms.Field: {"required": gettext_lazy("Enter this.")},
    forms.BooleanField: {"required": gettext_lazy("Tick this to go on.")},
    forms.ChoiceField: {
        "required": gettext_lazy("Choose one."),
        "invalid_choice": gettext_lazy("“%(value)s” is not in the list. Choose from it."),
    },
    forms.MultipleChoiceField: {
        "required": gettext_lazy("Choose at least one."),
        "invalid_choice": gettext_lazy("“%(value)s” is not in the list. Choose from it."),
        "invalid_list": gettext_lazy("Choose from the list."),
    },
    forms.ModelChoiceField: {
        "required": gettext_lazy("Choose one."),
        "invalid_choice": gettext_lazy("That is not in the list. Choose from it."),
    },
    forms.ModelMultipleChoiceField: {
        "invalid_list": gettext_lazy("Choose from the list."),
        "invalid_choice": gettext_lazy("“%(value)s” is not in the list. Choose from it."),
        "invalid_pk_value": gettext_lazy("“%(pk)s” is not in the list. Choose from it."),
    },
    forms.DateField: {"invalid": gettext_lazy("Enter a day as 2026-11-30.")},
    forms.TimeField: {"invalid": gettext_lazy("Enter a time as 14:30.")},
    forms.FileField: {
        "required": gettext_lazy("Choose a file."),
        "missing": gettext_lazy("Choose a file."),
        "empty": gettext_lazy("That file is empty. Choose another."),
    },
}
_OF_COLUMNS = {
    "blank": gettext_lazy("Enter this; it cannot be blank."),
    "null": gettext_lazy("Enter this; it cannot be blank."),
    "invalid_choice": gettext_lazy("%(value)r is not in the list. Choose from it."),
}


def say_it_our_way() -> None:
    """Put these in the place of the framework's sentences. Called once, before any form is made."""
    for field, said in _OF_FIELDS.items():
        field.default_error_messages = {**field.default_error_messages, **said}
    models.Field.default_error_messages = {**models.Field.default_error_messages, **_OF_COLUMNS}
    validators.MaxValueValidator.message = gettext_lazy("Enter %(limit_value)s or less.")
    validators.MinValueValidator.message = gettext_lazy("Enter %(limit_value)s or more.")
    validators.MaxLengthValidator.message = ngettext_lazy(
        "Shorten this to %(limit_value)d character; it has %(show_value)d.",
        "Shorten this to %(limit_value)d characters; it has %(show_value)d.",
        "limit_value",
    )
    validators.MinLengthValidator.message = ngettext_lazy(
        "Enter at least %(limit_value)d character; it has %(show_value)d.",
        "Enter at least %(limit_value)d characters; it has %(show_value)d.",
        "limit_value",
    )
