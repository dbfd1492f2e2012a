"""What a field says where its form says nothing of its own: what is wrong and what to do, in the shop's voice."""

from __future__ import annotations

from django import forms
from django.core import validators
from django.db import models
from django.utils.translation import ngettext_lazy

_OF_FIELDS: dict[type[forms.Field], dict[str, str]] = {
    forms.Field: {"required": "Enter this."},
    forms.BooleanField: {"required": "Tick this to go on."},
    forms.ChoiceField: {
        "required": "Choose one.",
        "invalid_choice": "“%(value)s” is not in the list. Choose from it.",
    },
    forms.MultipleChoiceField: {
        "required": "Choose at least one.",
        "invalid_choice": "“%(value)s” is not in the list. Choose from it.",
        "invalid_list": "Choose from the list.",
    },
    forms.ModelChoiceField: {
        "required": "Choose one.",
        "invalid_choice": "That is not in the list. Choose from it.",
    },
    forms.ModelMultipleChoiceField: {
        "invalid_list": "Choose from the list.",
        "invalid_choice": "“%(value)s” is not in the list. Choose from it.",
        "invalid_pk_value": "“%(pk)s” is not in the list. Choose from it.",
    },
    forms.DateField: {"invalid": "Enter a day as 2026-11-30."},
    forms.TimeField: {"invalid": "Enter a time as 14:30."},
    forms.FileField: {
        "required": "Choose a file.",
        "missing": "Choose a file.",
        "empty": "That file is empty. Choose another.",
    },
}
_OF_COLUMNS = {
    "blank": "Enter this; it cannot be blank.",
    "null": "Enter this; it cannot be blank.",
    "invalid_choice": "%(value)r is not in the list. Choose from it.",
}


def say_it_our_way() -> None:
    """Put these in the place of the framework's sentences. Called once, before any form is made."""
    for field, said in _OF_FIELDS.items():
        field.default_error_messages = {**field.default_error_messages, **said}
    models.Field.default_error_messages = {**models.Field.default_error_messages, **_OF_COLUMNS}
    validators.MaxValueValidator.message = "Enter %(limit_value)s or less."
    validators.MinValueValidator.message = "Enter %(limit_value)s or more."
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
