"""What every editing page does: save, show what to put right, or show what somebody else saved meanwhile."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from operator import attrgetter
from typing import Any

from django import forms
from django.contrib import messages
from django.core.exceptions import NON_FIELD_ERRORS, ValidationError
from django.db import models
from django.http import HttpResponse
from django.shortcuts import redirect, render

from workshop.web.converters import key_from
from workshop.web.requests import ShopRequest
from workshop.web.versions import StaleVersion

REFUSED = 422
CHANGED_MEANWHILE = 409
NOTHING = "nothing"


@dataclass(frozen=True)
class FieldDifference:
    """A field whose typed value is not the stored one, both in words."""

    label: str
    typed: str
    stored: str


def edit_page(
    request: ShopRequest,
    *,
    template: str,
    form: forms.BaseForm,
    version: int,
    save: Callable[[int], object],
    form_of: Callable[[Any], forms.BaseForm],
    done_url: str,
    said: str,
    context: Mapping[str, Any] | None = None,
    version_of: Callable[[Any], int] = attrgetter("version"),
) -> HttpResponse:
    """Answer an editing page.

    Args:
        version: of the record as it is stored now; goes into the page as `seen_version`.
        save: writes the form's values, given the version that the page was opened with.
        form_of: an unbound form of a stored record, for the comparison when somebody was quicker.
        said: the message after saving.
        version_of: what `seen_version` becomes, given the record that was changed meanwhile.

    Returns:
        The page; 422 with errors beside the fields; 409 with both versions; or a redirect to `done_url`.
    """
    shown = {**(context or {}), "form": form, "seen_version": version}
    if request.method != "POST":
        return render(request, template, shown)
    shown["seen_version"] = seen_version(request)
    if form.is_valid():
        try:
            save(seen_version(request))
        except StaleVersion as stale:
            shown["differences"] = differences(form, form_of(stale.record))
            shown["seen_version"] = version_of(stale.record)
            return render(request, template, shown, status=CHANGED_MEANWHILE)
        except ValidationError as error:
            put_beside_fields(form, error)
        else:
            messages.success(request, said)
            return redirect(done_url)
    return render(request, template, shown, status=REFUSED)


def seen_version(request: ShopRequest, name: str = "seen_version") -> int:
    """The version of the record that the page was made from; 0 where it is missing."""
    return key_from(request.POST.get(name)) or 0


def put_beside_fields(form: forms.BaseForm, error: ValidationError) -> None:
    """Add a rule's errors to the form, each beside its field where the form has that field."""
    if not hasattr(error, "error_dict"):
        form.add_error(None, error)
        return
    for name, errors in error.error_dict.items():
        form.add_error(name if name in form.fields and name != NON_FIELD_ERRORS else None, errors)


def differences(typed: forms.BaseForm, stored: forms.BaseForm) -> list[FieldDifference]:
    """Where what was typed is not what is stored. `typed` is valid."""
    both = (
        (
            str(field.label),
            field_in_words(field, typed.cleaned_data[field.name]),
            field_in_words(field, stored[field.name].value()),
        )
        for field in typed.visible_fields()
        if field.name in stored.fields  # not a question that was asked back
    )
    return [FieldDifference(label, mine, theirs) for label, mine, theirs in both if mine != theirs]


def field_in_words(field: forms.BoundField, value: Any) -> str:
    """A value of a field as people read it."""
    if isinstance(field.field, forms.BooleanField):
        return "yes" if value else "no"
    if isinstance(field.field, forms.ChoiceField):
        chosen = value if isinstance(value, list | tuple | models.QuerySet) else [value]
        keys = {str(getattr(one, "pk", one)) for one in chosen if one not in ("", None)}
        choices: Any = field.field.choices
        return ", ".join(str(words) for key, words in choices if str(key) in keys) or NOTHING
    if isinstance(value, Decimal):
        return f"{value:.2f}"
    return NOTHING if value in (None, "") else str(field.field.prepare_value(value))
